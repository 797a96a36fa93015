"""Run on, or re-indicate: what each costs, in the shop's own minutes or money.

The policy is the one that did best in simulation. Re-indicate on a flag. Below a flag, re-indicate
on excess probability of a miss only where a miss costs ten re-indications or more, and only from
an excess of 4 %: waiting buys information, and the textbook rule (act as soon as the expected cost
of running on exceeds that of acting) acts far too often.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from qc.errors import BadInput
from qc.numerics.checks import require_finite
from qc.numerics.drift.excess import Excess

DEAR_MISS = 10.0
EXCESS_ACTED_ON = 0.04


@dataclass(frozen=True)
class Costs:
    """Of one missed job and of one re-indication, in one unit, the shop's minutes or its money.

    Raises BadInput unless both are finite and above 0.
    """

    miss: float
    reindication: float

    def __post_init__(self) -> None:
        if not (0 < self.miss < np.inf and 0 < self.reindication < np.inf):
            raise BadInput(why="The costs of a miss and of a re-indication must be above 0.")

    @property
    def miss_is_dear(self) -> bool:
        return self.miss >= DEAR_MISS * self.reindication


@dataclass(frozen=True)
class Advice:
    """what: to do. because: of an open flag, of the excess alone, or None when running on.

    miss_probability, after_reindicating, excess: of the next job. running_on_cost: expected, over
    the jobs planned, beside reindicating_cost. pays_after_jobs: re-indicating has paid for itself
    after so many jobs; None where not within those looked at. jobs_planned: of this fixture.
    """

    what: Literal["reindicate", "run_on"]
    because: Literal["flag", "excess"] | None
    miss_probability: float
    after_reindicating: float
    excess: float
    jobs_planned: int
    running_on_cost: float
    reindicating_cost: float
    pays_after_jobs: int | None


@dataclass(frozen=True)
class BestCount:
    """Re-indicate after so many more jobs: the least cost a job. is_last_looked_at: the cost was
    still falling there, so wear gives no reason to re-indicate within the jobs looked at.
    pays_clearly: over those, against never doing it, it saves a re-indication's cost or more."""

    jobs: int
    cost_a_job: float
    is_last_looked_at: bool
    pays_clearly: bool


def advise(excess: Excess, *, costs: Costs, is_flagged: bool) -> Advice:
    """What to do about a fixture whose planned jobs' excess is given.

    Raises BadInput without jobs, NotFinite on a NaN.
    """
    by_job = require_finite(excess.by_job, what="An excess probability")
    first = float(by_job[0])
    is_dear = costs.miss_is_dear and first >= EXCESS_ACTED_ON
    running_on = np.cumsum(by_job) * costs.miss
    paid = np.flatnonzero(running_on >= costs.reindication)
    return Advice(
        what="reindicate" if is_flagged or is_dear else "run_on",
        because="flag" if is_flagged else "excess" if is_dear else None,
        miss_probability=excess.now,
        after_reindicating=excess.after,
        excess=first,
        jobs_planned=by_job.size,
        running_on_cost=float(running_on[-1]),
        reindicating_cost=costs.reindication,
        pays_after_jobs=int(paid[0]) + 1 if paid.size else None,
    )


def best_job_count(excess: Excess, *, costs: Costs) -> BestCount:
    """n* = argmin over n of (c_r + c_m x sum of the first n excesses) / n.

    The renewal argument of replacement at a fixed age (Barlow and Hunter 1960, from memory).
    Raises BadInput without jobs, NotFinite on a NaN.
    """
    by_job = require_finite(excess.by_job, what="An excess probability")
    count = np.arange(1, by_job.size + 1)
    cost = (costs.reindication + costs.miss * np.cumsum(by_job)) / count
    best = int(np.argmin(cost))
    saved = costs.miss * float(by_job.sum()) - by_job.size * float(cost[best])
    return BestCount(
        jobs=best + 1,
        cost_a_job=float(cost[best]),
        is_last_looked_at=best + 1 == by_job.size,
        pays_clearly=saved >= costs.reindication,
    )
