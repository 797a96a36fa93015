"""How much of an indicated lean reaches the gap in this shop, from its own clocking tests."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from qc.models import Round
from qc.numerics.carry_through import Share, pooled_share

U_OF_NOTHING_KNOWN = 1 / math.sqrt(12)
"""Standard uncertainty of a share of which only 0 to 1 is known (JCGM 100 4.3.7)."""


@dataclass(frozen=True)
class TestShare:
    """What one clocking test said, by the job and round of its second run."""

    job: int
    round: int
    value: float
    u: float


@dataclass(frozen=True)
class OwnShare:
    """The tests pooled, newest first. `u` is widened where they disagree more than theirs explain.

    is_sensible: the estimate lies in 0 to 1, as a share must, and says more than that alone would.
    """

    value: float
    u: float
    tests: Sequence[TestShare]

    @property
    def is_sensible(self) -> bool:
        return 0 <= self.value <= 1 and self.u < U_OF_NOTHING_KNOWN


def own_share() -> OwnShare | None:
    """None until a clocking test has shown a share.

    Two tests that have a run in common are not two: the newer one counts.
    """
    rounds = Round.objects.filter(clocking_test__isnull=False).order_by("-pk")
    used: set[int] = set()
    tests = []
    for one in rounds.only("clocking_test"):
        test = one.clocking_test
        runs = {test["first"]["round_id"], test["second"]["round_id"]}
        share = _share_of(test)
        if share is None or runs & used:
            continue
        used |= runs
        tests.append(TestShare(test["second"]["job"], test["second"]["round"], *share))
    if not tests:
        return None
    pooled = pooled_share([Share(one.value, one.u) for one in tests])
    return OwnShare(pooled.value, pooled.u, tests)


def _share_of(test: dict[str, Any]) -> tuple[float, float] | None:
    overall = (test["carried"] or {}).get("overall")
    if overall is None or overall["u"] <= 0:
        return None
    return overall["value"], overall["u"]
