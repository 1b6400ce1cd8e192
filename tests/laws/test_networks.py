"""Belief beside exact inference in three published networks: child, alarm and hepar2, as pgmpy ships them.

child: Spiegelhalter, Dawid, Lauritzen & Cowell 1993; alarm: Beinlich, Suermondt, Chavez & Cooper 1989; hepar2: Onisko
2003 (all from memory; the tables are read from the files). A cause with several states stands for the causes of a
sheet, what hangs on it for the outcomes of tests.
"""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
from helpers.networks import Network, Table, network

from kb.diagnosis.belief import with_findings

FOLDER = os.environ.get("BENCHLORE_NETWORKS", "")
CAUSES = {"child": "Disease", "alarm": "INTUBATION", "hepar2": "ChHepatitis"}
#: Cases drawn of each network, and findings of each case.
CASES, FINDINGS = 150, 4
#: Of 100 cases the cause is right first at most so many times less often than by exact inference: what it costs to
#: take findings as independent given the cause.
PRICE = {"child": 3.0, "alarm": 3.0, "hepar2": 3.0}

pytestmark = pytest.mark.skipif(
    not FOLDER,
    reason="BENCHLORE_NETWORKS names no folder with the networks of pgmpy (pgmpy/utils/example_models)",
)


@pytest.fixture(scope="module", params=CAUSES)
def named(request: pytest.FixtureRequest) -> tuple[str, Network]:
    return request.param, network(Path(FOLDER) / f"{request.param}.bif.gz")


def believed(net: Network, cause: str, seen: dict[str, int]) -> Table:
    """What the program believes of the cause: its prior, and P(finding | cause) of each finding by itself."""
    names = net.states[cause]
    prior = dict(zip(names, net.joint([cause]).tolist(), strict=True))
    likelihoods = []
    for finding, state in seen.items():
        both = net.joint([cause, finding])
        likelihoods.append(
            dict(zip(names, (both[:, state] / both.sum(axis=1)).tolist(), strict=True))
        )
    found = with_findings(prior, likelihoods)
    return np.array([found[name] for name in names])


def exactly(net: Network, cause: str, seen: dict[str, int]) -> Table:
    joint = net.joint([cause], seen)
    return np.asarray(joint / joint.sum())


def test_after_any_single_finding_the_belief_is_that_of_exact_inference(
    named: tuple[str, Network],
) -> None:
    """Every state of everything that hangs on the cause and can be seen at all."""
    name, net = named
    cause, checked = CAUSES[name], 0
    for finding in net.descendants(cause):
        for state, share in enumerate(net.joint([finding])):
            if share > 1e-9:
                seen = {finding: state}
                assert believed(net, cause, seen) == pytest.approx(
                    exactly(net, cause, seen), abs=1e-12
                ), seen
                checked += 1
    assert checked > 20


def test_taking_findings_as_independent_given_the_cause_costs_little(
    named: tuple[str, Network],
) -> None:
    name, net = named
    cause, chance = CAUSES[name], np.random.default_rng(20261129)
    shown, right, best, loss, floor, furthest = (
        net.descendants(cause),
        0,
        0,
        0.0,
        0.0,
        0.0,
    )
    for _ in range(CASES):
        case = net.drawn(chance)
        seen = {
            str(one): case[str(one)]
            for one in chance.choice(shown, FINDINGS, replace=False)
        }
        ours, exact = believed(net, cause, seen), exactly(net, cause, seen)
        right, best = (
            right + (ours.argmax() == case[cause]),
            best + (exact.argmax() == case[cause]),
        )
        loss, floor = (
            loss - np.log(ours[case[cause]]),
            floor - np.log(exact[case[cause]]),
        )
        furthest = max(furthest, float(np.abs(ours - exact).max()))
    print(
        f"{name}: right first {right / CASES:.4f}, exact {best / CASES:.4f}; log loss {loss / CASES:.4f}, exact "
        f"{floor / CASES:.4f}; furthest {furthest:.3f}"
    )
    assert 100 * (best - right) / CASES <= PRICE[name]
