"""An invented shop, job by job, with one thing that moves: what the drift sums are judged on.

The model is the one the sums assume, drawn wider: tilts are side-to-side differences, mm, per axis.

    found    = c + c_o + g + e,     e sd sqrt(0.0102^2 + 0.008^2)
    achieved = c + c_o + g + R(clocking) e_f + e,     e sd 0.0102;  g sd 0.015 a job
    height error = mu + lathe + edge + operator + gauge + 0.0002 x edge's jobs + e,     e sd 0.020
    log s2 = m + v_o + v_g + log(chi2_df / df)

Biases are drawn normal with the sds of SDS, walk by 0.0003 an own job, and are drawn anew when the
thing is serviced. 4 to 8 fixtures, 2 or 3 hands, 1 or 2 lathes with two edges each, 2 gauges, used
unevenly (Dirichlet, 4 each); clocking one of four; nobody keeps to one thing. A fixture is
re-indicated about every 80 of its jobs, an edge changed every 60 to 120. Seeds are numpy's PCG64.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from qc.numerics.drift import Event, Jobs, jobs
from qc.numerics.results import FloatArray, IntArray

JOBS_A_YEAR = 250
SDS = {"fixture": 0.006, "hands": 0.004, "lathe": 0.010, "edge": 0.006, "gauge": 0.006}
HANDS_HEIGHT_SD, LOG_VARIANCE_SD, WALK_SD = 0.007, 0.24, 0.0003162
READ_SD, OLD_FACE_SD, ENGINE_SD, HEIGHT_SD = 0.0102, 0.008, 0.015, 0.020
SHOP_TILT_SD, SHOP_HEIGHT_SD = 0.012, 0.030
WEAR = 0.0002
SPREAD_DF = 6

Where = Literal["fixture", "operator_tilt", "lathe", "edge", "gauge", "operator", "repeats"]
Noise = Literal["plain", "t5", "unit_slips", "outliers"]


@dataclass(frozen=True)
class Change:
    """What moves from a job on. size: a step in mm (log variance for repeats), or mm an own job
    where it is a ramp."""

    where: Where
    size: float
    is_ramp: bool = False
    earliest: int = 120
    latest: int = 170


@dataclass(frozen=True, eq=False)
class Season:
    """What is recorded, what was done between the jobs, and the truth."""

    jobs: Jobs
    events: list[Event]
    changed: tuple[str, int] | None
    onset: int
    # True achieved tilt of each job without its reading error, mm (n, 2), and how the changed
    # resource counted its jobs.
    own_jobs_before: int
    true_bias: FloatArray

    def own_jobs_until(self, job: int) -> int:
        """Jobs of the changed resource from the onset to this one, both counted."""
        assert self.changed is not None
        used = column_of(self.jobs, self.changed[0])[self.onset : job + 1]
        return int((used == self.changed[1]).sum())


def column_of(season: Jobs, kind: str) -> IntArray:
    return season.gauge_achieved if kind == "gauge" else getattr(season, kind)


def season(
    seed: int,
    *,
    n: int = 520,
    change: Change | None = None,
    noise: Noise = "plain",
    fixture_walk_sd: float = WALK_SD,
) -> Season:
    """One shop's jobs. The same seed draws the same shop and the same usual noise.

    fixture_walk_sd: mm an own job, how far a fixture's tilt wanders without anything having moved.
    """
    rng = np.random.default_rng(seed)
    count = {
        "fixture": int(rng.integers(4, 9)),
        "operator": int(rng.integers(2, 4)),
        "lathe": int(rng.integers(1, 3)),
        "gauge": 2,
    }
    used = {kind: _used(rng, many, n) for kind, many in count.items()}
    slot = rng.integers(0, 2, n)
    used["edge"] = 2 * used["lathe"] + slot
    clocking = 90.0 * rng.integers(0, 4, n)
    standard = rng.standard_normal((n, 11))
    chi2 = rng.chisquare(SPREAD_DF, n)
    if noise == "t5":
        standard *= np.sqrt(0.6 * 5 / rng.chisquare(5, (n, 11)))

    events: list[Event] = []
    fixture_bias = _biases(
        rng,
        used["fixture"],
        SDS["fixture"],
        events,
        kind="fixture",
        every=(20, 140),
        deltas=2,
        walk_sd=fixture_walk_sd,
    )
    edge_bias = _biases(
        rng, used["edge"], SDS["edge"], events, kind="edge", every=(60, 121), deltas=1
    )[:, 0]
    edge_jobs = _jobs_since(used["edge"], [e for e in events if e.kind == "edge"])
    lathe_bias = _biases(rng, used["lathe"], SDS["lathe"])[:, 0]
    gauge_bias = _biases(rng, used["gauge"], SDS["gauge"])[:, 0]
    hands_bias = _biases(rng, used["operator"], HANDS_HEIGHT_SD)[:, 0]
    hands_tilt = _biases(rng, used["operator"], SDS["hands"], deltas=2)
    log_variance = (
        rng.normal(0, LOG_VARIANCE_SD, count["operator"])[used["operator"]]
        + rng.normal(0, LOG_VARIANCE_SD, count["gauge"])[used["gauge"]]
    )
    shop_tilt = rng.normal(0, SHOP_TILT_SD, 2)
    shop_height = rng.normal(0, SHOP_HEIGHT_SD)
    wild = rng.random((n, 4))

    changed, onset, before = None, n, 0
    if change is not None:
        onset = int(rng.integers(change.earliest, change.latest))
        kind = {"operator_tilt": "operator", "repeats": "operator"}.get(change.where, change.where)
        who = int(used[kind][onset])
        changed = (kind, who)
        mine = (used[kind] == who) & (np.arange(n) >= onset)
        services = [e.before_job for e in events if (e.kind, e.resource) == changed]
        since = max([0, *[at for at in services if at <= onset]])
        before = int((used[kind][since:onset] == who).sum())
        # Once moved it is not serviced: the question is how long it takes to be found.
        events = [
            e for e in events if not ((e.kind, e.resource) == changed and e.before_job > onset)
        ]
        size = change.size * np.where(change.is_ramp, np.cumsum(mine), 1.0) * mine
        toward = rng.uniform(0, 2 * np.pi)
        direction = np.array([np.cos(toward), np.sin(toward)])
        if change.where in ("fixture", "operator_tilt"):
            target = fixture_bias if change.where == "fixture" else hands_tilt
            target[mine] = target[onset] + size[mine, None] * direction
        elif change.where == "repeats":
            log_variance = log_variance + size
        else:
            target = {"lathe": lathe_bias, "edge": edge_bias, "gauge": gauge_bias}.get(
                change.where, hands_bias
            )
            target[mine] = target[onset] + size[mine] * rng.choice([-1.0, 1.0])
            if change.where == "edge":
                edge_jobs = _jobs_since(used["edge"], [e for e in events if e.kind == "edge"])

    turn = np.deg2rad(clocking)
    cos, sin = np.cos(turn), np.sin(turn)
    seen = np.stack(
        [
            cos * fixture_bias[:, 0] - sin * fixture_bias[:, 1],
            sin * fixture_bias[:, 0] + cos * fixture_bias[:, 1],
        ],
        axis=1,
    )
    common = shop_tilt + hands_tilt + ENGINE_SD * standard[:, 0:2]
    found = common + READ_SD * standard[:, 2:4] + OLD_FACE_SD * standard[:, 4:6]
    achieved = common + seen + READ_SD * standard[:, 6:8]
    height = (
        shop_height
        + lathe_bias
        + edge_bias
        + hands_bias
        + gauge_bias
        + WEAR * edge_jobs
        + HEIGHT_SD * standard[:, 8]
    )
    spread = 0.010 * np.exp(log_variance / 2) * np.sqrt(chi2 / SPREAD_DF)
    if noise == "unit_slips":
        _slip(wild, found, achieved, height, spread)
    elif noise == "outliers":
        _one_reading_off(wild, found, achieved, height)
    return Season(
        jobs=jobs(
            n,
            fixture=used["fixture"],
            operator=used["operator"],
            lathe=used["lathe"],
            edge=used["edge"],
            gauge_achieved=used["gauge"],
            clocking_deg=clocking,
            tilt_found_mm=found,
            tilt_achieved_mm=achieved,
            height_error_mm=height,
            edge_jobs=edge_jobs,
            spread_mm=spread,
            spread_df=np.full(n, SPREAD_DF),
        ),
        events=events,
        changed=changed,
        onset=onset,
        own_jobs_before=before,
        true_bias=common + seen,
    )


def without_found(one: Season) -> Season:
    """The same season with no as-found tilt recorded."""
    return replace(one, jobs=replace(one.jobs, tilt_found_mm=np.full((len(one.jobs), 2), np.nan)))


def _used(rng: np.random.Generator, many: int, n: int) -> IntArray:
    return rng.choice(many, n, p=rng.dirichlet(np.full(many, 4.0)))


def _biases(
    rng: np.random.Generator,
    used: IntArray,
    sd: float,
    events: list[Event] | None = None,
    *,
    kind: str = "",
    every: tuple[int, int] | None = None,
    deltas: int = 1,
    walk_sd: float = WALK_SD,
) -> FloatArray:
    """Each job's bias, (n, deltas): walks from job to job of one thing, drawn anew at a service."""
    found = np.zeros((used.size, deltas))
    for who in np.unique(used):
        mine = np.flatnonzero(used == who)
        walk = walk_sd * rng.standard_normal((mine.size, deltas)).cumsum(axis=0)
        starts = [0]
        if every is not None and events is not None:
            while starts[-1] < mine.size:
                starts.append(starts[-1] + int(rng.integers(*every)))
            events += [Event(int(mine[at]), kind, int(who)) for at in starts[1:-1]]
        for at, until in zip(starts, [*starts[1:], mine.size], strict=True):
            stretch = walk[at:until]
            if stretch.size:
                walk[at:until] = stretch - stretch[0] + rng.normal(0, sd, deltas)
        found[mine] = walk
    return found


def _jobs_since(used: IntArray, events: list[Event]) -> FloatArray:
    """How many jobs each job's thing had done since it was last changed."""
    fresh = {(event.resource, event.before_job) for event in events}
    count: dict[int, int] = {}
    found = np.zeros(used.size)
    for job, who in enumerate(used.tolist()):
        if (who, job) in fresh:
            count[who] = 0
        found[job] = count.get(who, 0)
        count[who] = count.get(who, 0) + 1
    return found


def _slip(
    wild: FloatArray,
    found: FloatArray,
    achieved: FloatArray,
    height: FloatArray,
    spread: FloatArray,
) -> None:
    """In 2 % of jobs a whole set, of gaps near 1 mm, was put down 2.54 times too wide."""
    slipped = wild[:, 0] < 0.02
    is_found = slipped & (wild[:, 1] < 0.5)
    is_achieved = slipped & ~is_found
    found[is_found] *= 2.54
    height[is_found] -= 1.54
    achieved[is_achieved] *= 2.54
    height[is_achieved] += 1.54
    spread[is_achieved] *= 2.54


def _one_reading_off(
    wild: FloatArray, found: FloatArray, achieved: FloatArray, height: FloatArray
) -> None:
    """In 2 % of jobs one position, of either set, is 0.120 mm out."""
    off = wild[:, 0] < 0.02
    in_found = wild[:, 1] < 0.5
    axis = (wild[:, 2] < 0.5).astype(int)
    sign = np.where(wild[:, 3] < 0.5, -1.0, 1.0)
    for at in np.flatnonzero(off):
        (found if in_found[at] else achieved)[at, axis[at]] += 0.120 * sign[at]
        height[at] += (-0.030 if in_found[at] else 0.030) * sign[at]
