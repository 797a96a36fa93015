"""A demo season as the drift watch is told of it, and what the watch says of it.

Jobs are told as `qc/lookups/watch/drift_jobs.py` tells stored ones, from the season's numbers; what
the bench rounds and the second rounds of jobs that are cut again are left out.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from deploy.demo.season import (
    JOBS,
    KNOCK_AT,
    KNOCKED_AGAIN_AT,
    PUT_RIGHT_AT,
    WEAR_FROM,
    DemoJob,
    season,
)
from deploy.demo.services import SERVICES
from deploy.demo.shop import (
    FAMILIES,
    FIXTURES,
    GAUGES,
    KNOCKED,
    LATHES,
    OPERATORS,
    WEARING_LATHE,
)
from qc.numerics.drift import Budget, Event, Flag, Jobs, jobs, watch_jobs
from qc.numerics.results import FloatArray
from qc.numerics.solder import floored_spread
from qc.numerics.tilt import fit_gap

UNTIL = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
KNOCKED_ONE = ("fixture", FIXTURES.index(KNOCKED))
ONSET = round(JOBS * KNOCK_AT)
# One false flag in the jobs of a season, as the shop wishes.
WISHED = Budget(false_flags=1.0, jobs=JOBS)
THOU_MM = 0.0254


def edges(drawn: list[DemoJob]) -> tuple[list[int], list[int]]:
    """Which edge cut each job, and how many it had cut before."""
    fitted = {lathe: lathe for lathe in range(len(LATHES))}
    done: dict[int, int] = {}
    edge, before = [], []
    for job in drawn:
        for service in SERVICES:
            if service.kind == "edge" and service.before_job(len(drawn)) == job.number:
                fitted[service.number] += len(LATHES)
        own = fitted[job.lathe]
        edge.append(own)
        before.append(done.get(own, 0))
        done[own] = before[-1] + 1
    return edge, before


def tilt(gaps_mm: FloatArray, job: DemoJob) -> tuple[tuple[float, float], float]:
    """Side to side toward engine 0 and 90, or along the one axis that was read; and that axis."""
    fit = fit_gap(gaps_mm.mean(axis=1), position_deg=job.positions_deg)
    if fit.a_mm is not None and fit.b_mm is not None:
        return (2 * fit.a_mm, 2 * fit.b_mm), np.nan
    assert fit.component_mm is not None
    assert fit.component_axis_deg is not None
    return (2 * fit.component_mm, np.nan), fit.component_axis_deg


def step_mm(gauge: int) -> float:
    _, step, unit, _ = GAUGES[gauge]
    return float(step) * (THOU_MM if unit == "thou" else 1.0)


def told(drawn: list[DemoJob]) -> Jobs:
    edge, edge_jobs = edges(drawn)
    found = [tilt(job.found_mm, job) for job in drawn]
    achieved = [tilt(job.achieved_mm, job) for job in drawn]
    gauge = [job.gauge for job in drawn]
    return jobs(
        len(drawn),
        fixture=[job.fixture for job in drawn],
        operator=[OPERATORS.index(job.operator) for job in drawn],
        lathe=[job.lathe for job in drawn],
        edge=edge,
        gauge_found=gauge,
        gauge_achieved=gauge,
        clocking_deg=[
            np.nan if job.clocking_deg is None else float(job.clocking_deg) for job in drawn
        ],
        tilt_found_mm=[pair for pair, _ in found],
        found_axis_deg=[axis for _, axis in found],
        tilt_achieved_mm=[pair for pair, _ in achieved],
        achieved_axis_deg=[axis for _, axis in achieved],
        radius_mm=[float(str(FAMILIES[job.family]["measuring_radius_mm"])) for job in drawn],
        height_error_mm=[
            job.achieved_mm.mean() - job.found_mm.mean() + job.depth_error_mm for job in drawn
        ],
        edge_jobs=edge_jobs,
        spread_mm=[
            floored_spread(
                float(np.sqrt(job.achieved_mm.var(axis=1, ddof=1).mean())), step_mm(job.gauge)
            )
            for job in drawn
        ],
        spread_df=[len(job.positions_deg) for job in drawn],
    )


def serviced() -> list[Event]:
    return [
        Event(one.before_job(JOBS), one.kind, one.number) for one in SERVICES if one.kind != "edge"
    ]


@dataclass(frozen=True)
class Watched:
    """What the watch said of one season.

    own_jobs: of the knocked fixture, from its first knock to the flag on it, both counted; None
    where there was none. is_named: alone. is_wear_found: the suspects of a flag on heights hold an
    edge that wears, or its lathe. false_flags: all others, on what had not moved.
    """

    own_jobs: int | None
    is_named: bool
    size_mm: float | None
    is_wear_found: bool
    false_flags: int


def watched(seed: int) -> Watched:
    drawn = season(seed, until=UNTIL)
    as_told = told(drawn)
    flags = watch_jobs(as_told, events=serviced(), budget=WISHED, on_flag="hold")
    knocks = [one for one in flags if _is_of_knock(one)]
    knock = knocks[0] if knocks else None
    wear = [one for one in flags if _is_of_wear(one, as_told)]
    own = as_told.fixture[ONSET:] == KNOCKED_ONE[1]
    return Watched(
        own_jobs=None if knock is None else int(own[: knock.job - ONSET + 1].sum()),
        is_named=knock is not None and knock.named is not None,
        size_mm=None if knock is None else knock.move.size,
        is_wear_found=bool(wear),
        false_flags=len(flags) - len(knocks) - len(wear),
    )


def _is_of_knock(flag: Flag) -> bool:
    likeliest = (flag.likeliest.kind, flag.likeliest.resource)
    is_right = round(JOBS * PUT_RIGHT_AT) <= flag.job < round(JOBS * KNOCKED_AGAIN_AT)
    of_it = flag.channel == "tilt" and likeliest == KNOCKED_ONE
    return of_it and flag.job >= ONSET and not is_right


def _is_of_wear(flag: Flag, as_told: Jobs) -> bool:
    worn, since = LATHES.index(WEARING_LATHE), int(JOBS * WEAR_FROM)
    edges_on_it = as_told.edge[since:][as_told.lathe[since:] == worn]
    wearing = {("lathe", worn), *(("edge", int(edge)) for edge in edges_on_it)}
    held = {(one.kind, one.resource) for one in flag.suspects}
    return flag.channel == "height" and flag.job >= since and bool(held & wearing)
