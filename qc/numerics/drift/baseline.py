"""How well a resource is known yet, and what recording more would buy.

Both are asked of the filter itself. It is walked over jobs like the shop's own whose readings fall
just where it expects them, then over ones where the resource has moved, until it would flag: about
the median case, with no luck either way.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from qc.errors import BadInput
from qc.numerics.drift.bank import take_readings
from qc.numerics.drift.channel_settings import SettingArrays
from qc.numerics.drift.channel_watch import ChannelWatch
from qc.numerics.drift.forecast import (
    begin,
    copy_of,
    design_of,
    place_of,
    readings_for,
    resources_in,
    seen_from,
)
from qc.numerics.drift.hypotheses import evidence_of_each
from qc.numerics.drift.jobs import Jobs
from qc.numerics.drift.readings import ACHIEVED, MOST_INVOLVED, Readings
from qc.numerics.drift.state import HYPOTHESES, STATES, ChannelState
from qc.numerics.drift.thresholds import Budget
from qc.numerics.drift.watch import COLUMNS

KNOCK_MM = 0.020
# A knock is findable when it takes no more own jobs than this, or a quarter more than it would on
# a settled resource.
WITHIN = 12
SLACK = 1.25
# Own jobs after which a resource's baseline is as good as settled, and the most looked at.
SETTLED = 40
MOST_JOBS = 60


@dataclass(frozen=True)
class Baseline:
    """own_jobs: since its last service. finds_in: own jobs a knock would take to be flagged if it
    came now; settled_finds_in: if it came SETTLED own jobs from now; None for more than MOST_JOBS.
    more_jobs: own jobs until one is findable within `within`; None where no number of them does
    it. within: what was asked, or a little over what a settled resource takes where that is more.
    """

    own_jobs: int
    finds_in: int | None
    settled_finds_in: int | None
    within: int
    more_jobs: int | None

    @property
    def is_thin(self) -> bool:
        """More own jobs would help: a knock now would take longer to find than it need."""
        return self.more_jobs is not None and self.more_jobs > 0


@dataclass(frozen=True)
class Recording:
    """What always recording one thing would buy.

    what: "clocking", "four_positions" or "as_found". recorded: share of the jobs that have it.
    nats_now, nats_with: what one own job tells, on average, of a knock of the size asked about,
    biases being known; as recorded, and with this always recorded. jobs_saved: share of the own
    jobs to find a knock that this saves, 1 - nats_now / nats_with.
    """

    what: str
    recorded: float
    nats_now: float
    nats_with: float

    @property
    def jobs_saved(self) -> float:
        return 1 - self.nats_now / self.nats_with if self.nats_with > 0 else 0.0


def baseline(
    channel: ChannelWatch,
    *,
    kind: str,
    resource: int,
    like: Jobs,
    budget: Budget,
    knock: float = KNOCK_MM,
    within: int = WITHIN,
) -> Baseline:
    """How well one resource is known.

    like: recent jobs of this resource; those to come are taken to be like them, in turn. knock: mm
    (log variance on the spread channel).
    Raises BadInput where the channel does not know it, no job in `like` is its own, or a figure is
    not above 0.
    """
    if not knock > 0 or within < 1:
        raise BadInput(why="A knock must be above 0, and so must the jobs it should be found in.")
    place = place_of(channel, kind, resource)
    mine = own_jobs(like, channel=channel, kind=kind, resource=resource)
    threshold = budget.threshold(channel.settings)

    def found_in(after: int) -> int | None:
        return _found_in(channel, mine, place, knock=knock, after=after, threshold=threshold)

    now, settled = found_in(0), found_in(SETTLED)
    wanted = max(within, math.ceil(SLACK * (settled or 0)))
    return Baseline(
        own_jobs=int(channel.state.own[place]),
        finds_in=now,
        settled_finds_in=settled,
        within=wanted,
        more_jobs=None if settled is None else _first_after(found_in, wanted),
    )


def own_jobs(like: Jobs, *, channel: ChannelWatch, kind: str, resource: int) -> Jobs:
    """Those of the jobs that were done with this resource. Raises BadInput where there is none."""
    columns = [name for name, of in COLUMNS[channel.settings.name].items() if of == kind]
    used = np.any([getattr(like, name) == resource for name in columns], axis=0)
    rows = np.flatnonzero(used)
    if not rows.size:
        raise BadInput(why=f"None of the jobs given was done with {kind} {resource}.")
    return like.of(rows)


def recording(
    tilt: ChannelWatch, *, like: Jobs, knock_mm: float = KNOCK_MM
) -> tuple[Recording, ...]:
    """What recording more would buy in finding a moved fixture, from the shop's recent jobs.

    Each is taken alone, the others as the shop records them now.
    Raises BadInput without jobs whose achieved tilt was read, or for a knock not above 0.
    """
    has_tilt = np.isfinite(like.tilt_achieved_mm).any(axis=1) & (like.fixture >= 0)
    if not has_tilt.any() or not knock_mm > 0:
        raise BadInput(why="Give jobs with an achieved tilt and a fixture, and a knock above 0.")
    rows = np.flatnonzero(has_tilt)
    jobs = like.of(rows)
    now = _nats_a_job(tilt, jobs, knock_mm)
    return tuple(
        Recording(
            what=what,
            recorded=float(has.mean()),
            nats_now=now,
            nats_with=_nats_a_job(tilt, with_it, knock_mm),
        )
        for what, has, with_it in (
            (
                "clocking",
                np.isfinite(jobs.clocking_deg),
                replace(jobs, clocking_deg=np.nan_to_num(jobs.clocking_deg)),
            ),
            (
                "four_positions",
                np.isfinite(jobs.tilt_achieved_mm).all(axis=1),
                _with_four_positions(jobs),
            ),
            ("as_found", np.isfinite(jobs.tilt_found_mm).any(axis=1), _with_found(jobs)),
        )
    )


def _with_four_positions(jobs: Jobs) -> Jobs:
    """The same readings, taken at four positions wherever they were taken at two."""
    was_found = np.isfinite(jobs.tilt_found_mm).any(axis=1, keepdims=True)
    unknown = np.full(len(jobs), np.nan)
    return replace(
        jobs,
        tilt_achieved_mm=np.zeros((len(jobs), 2)),
        tilt_found_mm=np.where(was_found, np.zeros(2), np.nan),
        achieved_axis_deg=unknown,
        found_axis_deg=unknown,
    )


def _with_found(jobs: Jobs) -> Jobs:
    """As-found tilt read wherever it was not, at the positions the achieved one was read at."""
    missing = np.isnan(jobs.tilt_found_mm[:, 0]) & np.isnan(jobs.tilt_found_mm[:, 1])
    return replace(
        jobs,
        tilt_found_mm=np.where(missing[:, None], jobs.tilt_achieved_mm, jobs.tilt_found_mm),
        found_axis_deg=np.where(missing, jobs.achieved_axis_deg, jobs.found_axis_deg),
    )


def _nats_a_job(tilt: ChannelWatch, jobs: Jobs, knock_mm: float) -> float:
    """Mean over the jobs of knock^2 / 4 x the trace of H' S^-1 H, H the fixture's own terms: the
    expected log likelihood ratio of a knock, over all directions alike."""
    ready, readings = _ready(tilt, jobs)
    seen = seen_from(ready, readings)
    state, arrays = ready.state, ready.arrays
    design = design_of(readings, int(state.counts[STATES]))
    engine = slice(arrays.deltas, 2 * arrays.deltas)
    # A face found as a fixture left it has been learned from when it was cut.
    is_new = np.equal(readings.group, ACHIEVED).astype(np.float64).reshape(-1, 1)
    told = 0.0
    for job in range(len(jobs)):
        mine = slice(*readings.start[job : job + 2])
        place = int(readings.involved[job, 0])
        if place < 0:
            continue
        at = arrays.first + arrays.deltas * place
        own = design[mine, at : at + arrays.deltas] * is_new[mine]
        turned = design[mine, engine]
        cov = turned @ state.p[engine, engine] @ turned.T + np.diag(seen.noise_var[mine])
        told += float(np.trace(own.T @ np.linalg.solve(cov, own)))
    return told * knock_mm**2 / 4 / len(jobs)


def _ready(channel: ChannelWatch, jobs: Jobs) -> tuple[ChannelWatch, Readings]:
    """A copy that knows the jobs' resources, with a new engine in hand, and the jobs' readings."""
    ready = copy_of(channel)
    ready.meet(resources_in(jobs, channel=channel))
    begin(ready, np.full(MOST_INVOLVED, -1))
    return ready, readings_for(ready, jobs)


def _first_after(found_in: Callable[[int], int | None], wanted: int) -> int:
    """The fewest own jobs after which a knock is found within `wanted`; SETTLED does it."""
    too_few, enough = -1, SETTLED
    while enough - too_few > 1:
        middle = (too_few + enough) // 2
        found = found_in(middle)
        if found is not None and found <= wanted:
            enough = middle
        else:
            too_few = middle
    return enough


def _without_luck(state: ChannelState, arrays: SettingArrays) -> None:
    """What the bank would hold had every reading so far fallen just where it was expected: moves of
    size 0 that have lost what was laid on them, in place."""
    h = int(state.counts[HYPOTHESES])
    left = state.cov[0, :h] * state.cov[2, :h] - state.cov[1, :h] ** 2
    state.mean[:, :h] = 0.0
    state.evidence[:h] = 0.5 * np.log(left) - np.log(arrays.shape_var[state.shape[:h]])


def _found_in(
    channel: ChannelWatch, like: Jobs, place: int, *, knock: float, after: int, threshold: float
) -> int | None:
    """Own jobs until a knock would be flagged that comes so many own jobs from now.

    Chance adds half a nat an axis, on average, to a move's evidence; readings without it lack that.
    """
    enough = threshold - channel.settings.deltas / 2
    ready, readings = _ready(channel, like)
    state, arrays, off = ready.state, ready.arrays, np.zeros(readings.y.size)
    _without_luck(state, arrays)
    truth = state.x[: state.counts[STATES]].copy()
    design = design_of(readings, truth.size)
    learned = (state.scale_sum, state.scale_weight, state.shape_weight, state.walk_evidence)
    kept = [one.copy() for one in learned]
    at = arrays.first + arrays.deltas * place
    for job in range(after + MOST_JOBS):
        if job == after:
            truth[at : at + arrays.deltas] += knock / np.sqrt(arrays.deltas)
        row = job % len(like)
        begin(ready, readings.involved[row])
        take_readings(state, readings._replace(y=design @ truth), row, off, arrays)
        # Readings that fall just where expected say nothing of the noise or of the walk.
        for now, before in zip(learned, kept, strict=True):
            now[:] = before
        if job >= after and evidence_of_each(state, arrays.log_prior)[place] > enough:
            return job - after + 1
    return None
