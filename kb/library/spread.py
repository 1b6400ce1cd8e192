"""The spread of liquid and fire, read from Markdown: which parts beside a fault are doubtful with it."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

from kb.library.items import read_items
from kb.model import Remark

#: A fault with the parts near it, as it is written.
LIKE = "- **liquid-spill** (keyboard; touchpad; palm rest)"


@dataclass(frozen=True, slots=True)
class Spread:
    """The parts near each fault, by `sheet` or `sheet/cause`, and what is wrong in the file."""

    near: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    remarks: tuple[Remark, ...] = ()

    def of(self, cause: str) -> tuple[str, ...]:
        """The parts near a cause (`sheet/cause`): those of its own line, else those of its sheet's; often none.

        >>> spread = Spread({"spill": ("keyboard", "fan"), "spill/panel-wet": ("panel",)})
        >>> spread.of("spill/panel-wet"), spread.of("spill/keyboard-wet"), spread.of("fan-noisy/dust")
        (('panel',), ('keyboard', 'fan'), ())
        """
        return self.near.get(cause, self.near.get(cause.partition("/")[0], ()))


def parse(text: str, known: Collection[str], file: str = "house/spread.md") -> Spread:
    r"""The spread that a file tells of; a part that the trade does not know is remarked on, and left out.

    >>> parse("- **spill** (keyboard; fann)\n- **burnt/dust**: lint alone", {"keyboard"}).near
    {'spill': ('keyboard',), 'burnt/dust': ()}
    """
    read = read_items(text, file, LIKE)
    remarks = list(read.remarks)
    near = {}
    for item in read.items:
        near[item.name] = tuple(part for part in item.pieces if part in known)
        for part in item.pieces:
            if part not in known:
                instead = "use a name that the trade of this library has"
                remarks.append(
                    Remark(file, item.line, f"no part is called `{part[:40]}`", instead)
                )
    return Spread(near, tuple(remarks))
