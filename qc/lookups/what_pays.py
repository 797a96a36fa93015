"""What running on with a resource costs, and when setting it right pays."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from qc.errors import BadInput
from qc.lookups.beliefs import stands_since
from qc.lookups.drift_jobs import recent_rows
from qc.lookups.own_jobs import own_rounds
from qc.lookups.shop import shop_policy
from qc.models import ShopPolicy
from qc.numerics.drift import Watch
from qc.numerics.drift.decision import Advice, BestCount, Costs, advise, best_job_count
from qc.numerics.drift.excess import Excess, excess_ahead, height_excess_ahead
from qc.numerics.drift.miss import NextJob
from qc.numerics.tilt import REFERENCE_RADIUS_MM

# So many of the next jobs are weighed against a service; wear is looked at further ahead.
JOBS_AHEAD = 20
WEAR_AHEAD = 60
# A fixture's last jobs say how it is clocked.
CLOCKINGS_OF = 12
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
    best: after how many more jobs that costs least, should it go on wearing as it does."""

    kind: str
    advice: Advice
    best: BestCount
    minutes: int

    @property
    def wears(self) -> bool:
        """Whether it is of a kind that wears, with a best count before the last one looked at."""
        return self.kind in WEARING and not self.best.is_last_looked_at

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
    )


def _costs(policy: ShopPolicy, minutes: int) -> Costs:
    """A miss costs the same whatever made it."""
    miss = float(policy.reindicating_minutes * policy.miss_in_reindications)
    return Costs(miss=miss, reindication=float(minutes))


def _of_fixture(fixture: int, watch: Watch, policy: ShopPolicy, *, jobs: int) -> Excess:
    rows = recent_rows(CLOCKINGS_OF, fixture=fixture)
    radius = float(rows[0]["measuring_radius_mm"]) if rows else REFERENCE_RADIUS_MM
    clockings = tuple(
        float(one["round__clocking_deg"]) for one in rows if one["round__clocking_deg"] is not None
    )
    return excess_ahead(
        watch.channels["tilt"].about("fixture", fixture),
        NextJob(fixture=fixture, radius_mm=radius),
        jobs=jobs,
        limit_mm=float(policy.evenness_limit_mm) * REFERENCE_RADIUS_MM / radius,
        **({"clocking_deg": clockings} if clockings else {}),
    )


# What a job was made with, as NextJob calls it.
MADE_WITH = {
    "lathe": "round__lathe",
    "edge": "round__edge",
    "operator": "round__achieved_set__by",
    "gauge_found": "round__as_found_set__gauge",
    "gauge_achieved": "round__achieved_set__gauge",
}


def _of_height(kind: Any, key: int, watch: Watch) -> Excess:
    """For jobs like its last one, on that one's tolerance. Raises BadInput where it has none."""
    tolerance = ("round__job__tol_minus_mm", "round__job__tol_plus_mm")
    last = own_rounds(kind, key).values_list(*MADE_WITH.values(), *tolerance).last()
    if last is None:
        raise BadInput(why="It has no job yet.")
    *used, minus, plus = last
    made_with = dict(zip(MADE_WITH, used, strict=True))
    return height_excess_ahead(
        watch.channels["height"].about(kind, key),
        NextJob(**made_with, edge_jobs=_edge_jobs(made_with["edge"])),
        of=kind,
        jobs=WEAR_AHEAD,
        lower_mm=-float(minus),
        upper_mm=float(plus),
    )


def _edge_jobs(edge: int | None) -> int:
    """That the edge has done since it was last put right."""
    since = None if edge is None else stands_since("edge", edge)
    if edge is None or since is None:
        return 0
    return own_rounds("edge", edge).filter(measured_at__gte=since).count()
