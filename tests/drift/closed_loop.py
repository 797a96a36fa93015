"""What each way of deciding when to re-indicate costs a shop in misses and re-indications.

In every shop one fixture is knocked, and stays so until it is re-indicated; the others get their
routine service, the knocked one does not. The same shops, noise and redrawn biases serve every
policy. A miss is an achieved tilt read beyond the evenness limit. A flag on hands is looked into
at the price of a re-indication, and nothing is found.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from qc.numerics.drift import Budget, Watch
from qc.numerics.drift.bank import start_afresh
from qc.numerics.drift.channel import run
from qc.numerics.drift.decision import EXCESS_ACTED_ON
from qc.numerics.drift.defaults import TILT
from qc.numerics.drift.excess import excess_ahead
from qc.numerics.drift.forecast import readings_for, resources_in
from qc.numerics.drift.hypotheses import evidence_of_each, forget_hypotheses
from qc.numerics.drift.miss import EVENNESS_LIMIT_MM, NextJob
from qc.numerics.drift.readings import ACHIEVED
from qc.numerics.drift.watch import WHAT
from qc.numerics.results import FloatArray
from tests.drift import shop
from tests.drift.conditions import drawn_with, turned
from tests.drift.shop import Change, Season, season

JOBS = 400
SIZES = (0.020, 0.040, 0.060)
EARLIEST, LATEST = 40, 120
# The excess is asked for from this evidence on: below it a move is less than 10 % likely, e^3.5 to
# 300, and would have to miss two times in five to make an excess of 4 %.
ASKED_FROM = 3.5
# Own jobs a chart's centre and sigma are taken from.
LEAST, MOST = 8, 20


class Shop:
    """One shop's jobs to come, whose fixtures can be re-indicated on the way."""

    def __init__(self, seed: int) -> None:
        size = SIZES[seed % len(SIZES)]
        change = Change("fixture", size, earliest=EARLIEST, latest=LATEST)
        with drawn_with(SDS={**shop.SDS, "fixture": 0.0}):
            square = season(seed, n=JOBS)
        self.season = season(seed, n=JOBS, change=change)
        self.jobs = self.season.jobs
        self.without_fixture = square.jobs.tilt_achieved_mm
        self.achieved = self.jobs.tilt_achieved_mm.copy()
        self.serviced = {
            (event.resource, event.before_job)
            for event in self.season.events
            if event.kind == "fixture"
        }
        self.done = 0
        self._bias = np.random.default_rng([seed, 3])

    def reindicate(self, fixture: int, *, after: int) -> None:
        """From the job after this one until its next routine service it has a new bias."""
        later = [at for who, at in self.serviced if who == fixture and at > after]
        until = min(later, default=JOBS)
        mine = np.flatnonzero(self.jobs.fixture[:until] == fixture)
        mine = mine[mine > after]
        bias = np.broadcast_to(self._bias.normal(0, shop.SDS["fixture"], 2), (mine.size, 2))
        self.achieved[mine] = self.without_fixture[mine] + turned(
            bias, self.jobs.clocking_deg[mine]
        )
        self.done += 1

    @property
    def misses(self) -> int:
        return int((np.hypot(*self.achieved.T) > EVENNESS_LIMIT_MM).sum())


@dataclass(frozen=True)
class Spent:
    """In one shop's JOBS jobs."""

    misses: int
    reindications: int

    def cost(self, *, miss: float) -> float:
        """Of 100 jobs, in re-indications."""
        return (miss * self.misses + self.reindications) * 100 / JOBS


def never(seed: int) -> Spent:
    return _spent(Shop(seed))


def at_once(seed: int) -> Spent:
    """Somebody saw the knock: the best there is."""
    here = Shop(seed)
    assert here.season.changed is not None
    here.reindicate(here.season.changed[1], after=here.season.onset - 1)
    return _spent(here)


def every_40(seed: int) -> Spent:
    here = Shop(seed)
    own: dict[int, int] = {}
    for job, fixture in enumerate(here.jobs.fixture.tolist()):
        own[fixture] = 0 if (fixture, job) in here.serviced else own.get(fixture, 0)
        own[fixture] += 1
        if own[fixture] == 40:
            here.reindicate(fixture, after=job)
            own[fixture] = 0
    return _spent(here)


def chart_of_sides(seed: int) -> Spent:
    """Three sigma on the side-to-side difference, a chart for each fixture."""
    return _by_chart(seed, beyond=_beyond_size)


def chart_of_axes(seed: int) -> Spent:
    """A point as rare as one beyond three sigma (.0027) on the fixture's two axes together, the
    shop's mean tilt taken off first."""
    return _by_chart(seed, beyond=_beyond_axes)


def _by_chart(seed: int, *, beyond: Callable[[FloatArray, FloatArray], bool]) -> Spent:
    """Centre and sigma from a fixture's first 8 to 20 own jobs since it was last set right."""
    here = Shop(seed)
    since: dict[int, list[FloatArray]] = {}
    for job, fixture in enumerate(here.jobs.fixture.tolist()):
        if (fixture, job) in here.serviced:
            since[fixture] = []
        mean = here.achieved[: job + 1].mean(axis=0)
        point = turned((here.achieved[job] - mean)[None], -here.jobs.clocking_deg[job : job + 1])[0]
        whole = np.append(point, np.hypot(*here.achieved[job]))
        before = since.setdefault(fixture, [])
        if len(before) >= LEAST and beyond(np.array(before[:MOST]), whole):
            here.reindicate(fixture, after=job)
            since[fixture] = []
        else:
            before.append(whole)
    return _spent(here)


def _moving_range_sigma(x: FloatArray) -> FloatArray:
    return np.abs(np.diff(x, axis=0)).mean(axis=0) * np.sqrt(np.pi) / 2


def _beyond_size(before: FloatArray, point: FloatArray) -> bool:
    size = before[:, 2]
    return bool(point[2] > size.mean() + 3 * _moving_range_sigma(size))


def _beyond_axes(before: FloatArray, point: FloatArray) -> bool:
    axes = before[:, :2]
    off = (point[:2] - axes.mean(axis=0)) / _moving_range_sigma(axes)
    return bool(off @ off > -2 * np.log(0.0027))


def on_flag(seed: int) -> Spent:
    return _by_watch(seed, excess=None)


def on_flag_or_excess(seed: int) -> Spent:
    return _by_watch(seed, excess=EXCESS_ACTED_ON)


def _by_watch(seed: int, *, excess: float | None) -> Spent:
    here = Shop(seed)
    channel = Watch(budget=Budget()).channels["tilt"]
    channel.meet(resources_in(here.jobs, channel=channel))
    readings = readings_for(channel, here.jobs)
    arrays, flagged_from = channel.arrays, Budget().threshold(TILT)
    events = _fixture_events(here.season, channel.keys)
    achieved = np.flatnonzero(readings.group == ACHIEVED).reshape(JOBS, 2)
    job, event = 0, 0
    while job < JOBS:
        job, event, who = run(
            channel.state,
            readings,
            events,
            start=job,
            stop=JOBS,
            next_event=event,
            threshold=flagged_from if excess is None else min(ASKED_FROM, flagged_from),
            off=np.zeros(readings.y.size),
            arrays=arrays,
        )
        if who < 0:
            break
        kind, resource = channel.keys[who]
        is_flagged = evidence_of_each(channel.state, arrays.log_prior)[who] > flagged_from
        if not is_flagged:
            if kind != "fixture":
                continue
            asked = NextJob(fixture=resource, operator=int(here.jobs.operator[job - 1]))
            if excess is None or excess_ahead(channel, asked, jobs=1).by_job[0] < excess:
                continue
        if kind != "fixture":
            forget_hypotheses(channel.state, who)
            here.done += 1
            continue
        start_afresh(channel.state, who, arrays)
        here.reindicate(resource, after=job - 1)
        readings = readings._replace(y=readings.y.copy())
        readings.y[achieved] = here.achieved
    return _spent(here)


def _fixture_events(one: Season, keys: list[tuple[str, int]]) -> np.ndarray:
    rows = sorted(
        (event.before_job, WHAT[event.what], keys.index((event.kind, event.resource)))
        for event in one.events
        if event.kind == "fixture"
    )
    return np.array(rows, dtype=np.int64).reshape(len(rows), 3)


def _spent(here: Shop) -> Spent:
    return Spent(misses=here.misses, reindications=here.done)


POLICIES: dict[str, Callable[[int], Spent]] = {
    "never": never,
    "every 40 own jobs": every_40,
    "3-sigma chart of the side-to-side difference": chart_of_sides,
    "3-sigma chart of both axes": chart_of_axes,
    "flag": on_flag,
    "flag, or excess of 4 %": on_flag_or_excess,
    "at once (bound)": at_once,
}
CHARTS = ("3-sigma chart of the side-to-side difference", "3-sigma chart of both axes")
