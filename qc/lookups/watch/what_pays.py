"""What running on with a resource costs, and when setting it right pays."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from qc.errors import BadInput
from qc.lookups.shop.policy import shop_policy
from qc.lookups.watch.next_job import like_its_last, on_fixture
from qc.models import ShopPolicy
from qc.numerics.drift import Watch
from qc.numerics.drift.decision import Advice, BestCount, Costs, advise, best_job_count
from qc.numerics.drift.excess import Excess, excess_ahead, height_excess_ahead
from qc.numerics.drift.wear import wear_of

# So many of the next jobs are weighed against a service; wear is looked at further ahead.
JOBS_AHEAD = 20
WEAR_AHEAD = 60
WEARING = ("fixture", "edge")
# Which shop setting says what putting one right takes.
MINUTES = {
    "fixture": "reindicating_minutes",
    "edge": "edge_minutes",
    "gauge": "gauge_minutes",
    "lathe": "lathe_minutes",
}


@dataclass(frozen=True)
class WhatPays:
    """About a fixture, edge, lathe or gauge. advice: against what setting it right costs, minutes.
    best: after how many more jobs that costs least, should it go on wearing as it does.
    is_told_to_wear: whether its own jobs tell of wear."""

    kind: str
    advice: Advice
    best: BestCount
    minutes: int
    is_told_to_wear: bool

    @property
    def wears(self) -> bool:
        """Whether it is told to wear, and waiting for the best count pays clearly against never."""
        best = self.best
        return self.is_told_to_wear and best.pays_clearly and not best.is_last_looked_at

    @property
    def best_after_jobs(self) -> int | None:
        return self.best.jobs if self.wears else None


def fixture_advice(fixture: int, watch: Watch, *, is_flagged: bool) -> Advice:
    """For the fixture's next jobs, clocked as its last ones were, in the shop's own costs."""
    policy = shop_policy()
    excess = _of_fixture(fixture, watch, policy, jobs=JOBS_AHEAD)
    costs = _costs(policy, policy.reindicating_minutes)
    return advise(excess, costs=costs, is_flagged=is_flagged)


def what_pays(kind: str, key: int, watch: Watch, *, is_flagged: bool) -> WhatPays | None:
    """None for a person, and for what the watch has no job of."""
    policy = shop_policy()
    if kind == "person":
        return None
    minutes: int = getattr(policy, MINUTES[kind])
    costs = _costs(policy, minutes)
    try:
        if kind == "fixture":
            excess = _of_fixture(key, watch, policy, jobs=WEAR_AHEAD)
        else:
            excess = _of_height(kind, key, watch)
    except BadInput:
        return None
    soon = Excess(excess.by_job[:JOBS_AHEAD], excess.now, excess.after)
    return WhatPays(
        kind=kind,
        advice=advise(soon, costs=costs, is_flagged=is_flagged),
        best=best_job_count(excess, costs=costs),
        minutes=minutes,
        is_told_to_wear=_told_to_wear(kind, key, watch),
    )


def _costs(policy: ShopPolicy, minutes: int) -> Costs:
    """A miss costs the same whatever made it."""
    miss = float(policy.reindicating_minutes * policy.miss_in_reindications)
    return Costs(miss=miss, reindication=float(minutes))


def _of_fixture(fixture: int, watch: Watch, policy: ShopPolicy, *, jobs: int) -> Excess:
    job, judged = on_fixture(fixture, policy)
    return excess_ahead(watch.channels["tilt"].about("fixture", fixture), job, jobs=jobs, **judged)


def _of_height(kind: Any, key: int, watch: Watch) -> Excess:
    """Raises BadInput where it has no job."""
    job, judged = like_its_last(kind, key)
    height = watch.channels["height"].about(kind, key)
    return height_excess_ahead(height, job, of=kind, jobs=WEAR_AHEAD, **judged)


def _told_to_wear(kind: str, key: int, watch: Watch) -> bool:
    channel = watch.channels["tilt" if kind == "fixture" else "height"].about(kind, key)
    return kind in WEARING and wear_of(channel, kind=kind, resource=key).is_told
