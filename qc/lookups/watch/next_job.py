"""The next job with a resource or by a person: made and judged as its last ones were."""

from __future__ import annotations

from typing import Any

from qc.errors import BadInput
from qc.lookups.watch.beliefs import stands_since
from qc.lookups.watch.done import in_watch
from qc.lookups.watch.drift_jobs import recent_rows
from qc.lookups.watch.own_jobs import own_rounds
from qc.models import DriftChannel, ShopPolicy
from qc.numerics.drift import Watch
from qc.numerics.drift.miss import NextJob, evenness_miss, height_miss
from qc.numerics.tilt import REFERENCE_RADIUS_MM

# A fixture's last jobs say how it is clocked.
CLOCKINGS_OF = 12
# What a job was made with, as NextJob calls it.
MADE_WITH = {
    "lathe": "round__lathe",
    "edge": "round__edge",
    "operator": "round__achieved_set__by",
    "gauge_found": "round__as_found_set__gauge",
    "gauge_achieved": "round__achieved_set__gauge",
}


def on_fixture(fixture: int, policy: ShopPolicy) -> tuple[NextJob, dict[str, Any]]:
    """The job, whoever measures it, and what else the sums of evenness take: the shop's limit, and
    how the fixture's last jobs were clocked."""
    rows = recent_rows(CLOCKINGS_OF, fixture=fixture)
    radius = float(rows[0]["measuring_radius_mm"]) if rows else REFERENCE_RADIUS_MM
    clockings = tuple(
        float(one["round__clocking_deg"]) for one in rows if one["round__clocking_deg"] is not None
    )
    limit = float(policy.evenness_limit_mm) * REFERENCE_RADIUS_MM / radius
    judged: dict[str, Any] = {"limit_mm": limit}
    return (
        NextJob(fixture=fixture, radius_mm=radius),
        judged | ({"clocking_deg": clockings} if clockings else {}),
    )


def like_its_last(kind: str, key: int) -> tuple[NextJob, dict[str, Any]]:
    """The job, and the tolerance on height of its last one. Raises BadInput where it has none."""
    tolerance = ("round__job__tol_minus_mm", "round__job__tol_plus_mm")
    last = own_rounds(kind, key).values_list(*MADE_WITH.values(), *tolerance).last()
    if last is None:
        raise BadInput(why="It has no job yet.")
    *used, minus, plus = last
    made_with = dict(zip(MADE_WITH, used, strict=True))
    return (
        NextJob(**made_with, edge_jobs=_edge_jobs(made_with["edge"])),
        {"lower_mm": -float(minus), "upper_mm": float(plus)},
    )


def _edge_jobs(edge: int | None) -> int:
    """That the edge has done since it was last put right."""
    since = None if edge is None else stands_since("edge", edge)
    if edge is None or since is None:
        return 0
    return own_rounds("edge", edge).filter(measured_at__gte=since).count()


def miss_if_it_moved(
    kind: str, key: int, channel: str, watch: Watch, policy: ShopPolicy
) -> float | None:
    """P(miss) of the next job with this, or by this person, should it be what moved; None on the
    spread channel, and where nothing is held against it any more."""
    moved = in_watch(kind, key)
    judged: dict[str, Any]
    try:
        about = watch.channels[channel].about(*moved)
        if channel == DriftChannel.HEIGHT:
            job, judged = like_its_last(kind, key)
            return height_miss(about, job, moved=moved, **judged)
        if channel == DriftChannel.SPREAD:
            return None
        fixture = key if kind == "fixture" else _last_fixture(kind, key)
        job, judged = on_fixture(fixture, policy)
        return evenness_miss(about, _by(job, kind, key), moved=moved, **judged)
    except BadInput:
        return None


def _by(job: NextJob, kind: str, key: int) -> NextJob:
    return job if kind == "fixture" else NextJob(job.fixture, key, radius_mm=job.radius_mm)


def _last_fixture(kind: str, key: int) -> int:
    found = own_rounds(kind, key).filter(round__fixture__isnull=False)
    last = found.values_list("round__fixture", flat=True).last()
    if last is None:
        raise BadInput(why="None of these jobs says its fixture.")
    return int(last)
