"""One machine under its tag, and the state it is in."""

from __future__ import annotations

from kb.bench.front import Bench
from kb.history import kinds

TAG = "P7-012"
PLUG = "no-battery/plug"


def came_in(bench: Bench, tag: str = TAG, **told: str) -> None:
    bench.machines.write(
        kinds.UNIT_IN, {"tag": tag, "model": "Tern 13", "lot": "P7", **told}
    )


def state(bench: Bench) -> tuple[str, str]:
    stands = bench.machines.machine(TAG).stands
    return stands.state.value, stands.step.value
