"""Watch a shop's jobs for a fixture, edge, lathe, gauge or pair of hands that has moved.

`watch_jobs` is the plain function: arrays of jobs in, flags out. `Watch` is the same thing kept
between jobs: feeding it the jobs one by one, in any portions, gives the same flags and the same
state to the last bit.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise
from typing import Literal

import numpy as np

from qc.errors import BadInput
from qc.numerics.drift.bank import CHECKED, CLOSED, MENDED, RENEWED, RULED_OUT, SERVICED
from qc.numerics.drift.channel import run
from qc.numerics.drift.channel_watch import ChannelWatch
from qc.numerics.drift.defaults import CHANNELS
from qc.numerics.drift.granting import grant
from qc.numerics.drift.hypotheses import evidence_of_each, forget_hypotheses
from qc.numerics.drift.jobs import Event, Jobs, in_order
from qc.numerics.drift.readings import (
    Readings,
    height_readings,
    spread_readings,
    tilt_readings,
)
from qc.numerics.drift.state import fresh_state
from qc.numerics.drift.suspects import Move, Suspect, move_of, suspects_of
from qc.numerics.drift.thresholds import Budget
from qc.numerics.results import FloatArray, IntArray
from qc.numerics.series import BoolArray

# A height this many standard deviations out is a slip of the pen or of the unit: nothing else of
# that job is learned from.
DOUBTED_AT = 8.0

WHAT = {
    "serviced": SERVICED,
    "checked": CHECKED,
    "mended": MENDED,
    "ruled_out": RULED_OUT,
    "closed": CLOSED,
    "renewed": RENEWED,
}
NO_EVENTS = np.zeros((0, 3), dtype=np.int64)
AFTER_ALL = np.iinfo(np.int64).max

OnFlag = Literal["check", "hold"]


@dataclass(frozen=True)
class Flag:
    """Raised by a job: something moved.

    job: its row, of the portion taken. channel: "tilt", "height" or "spread". suspects: the
    smallest set that holds the one in nine of ten cases, whatever moved, likeliest first. named:
    the first of them alone, when it is at least 80 % likely and not for what is usual alone, see
    Suspect; the set may hold others still. log_evidence: of the likeliest, above which threshold.
    move: of the likeliest; it counts all the jobs the channel was ever told.
    """

    job: int
    channel: str
    suspects: tuple[Suspect, ...]
    log_evidence: float
    threshold: float
    move: Move

    @property
    def likeliest(self) -> Suspect:
        return self.suspects[0]

    @property
    def named(self) -> Suspect | None:
        return self.likeliest if self.likeliest.is_named else None


def watch_jobs(
    jobs: Jobs,
    *,
    events: Sequence[Event] = (),
    budget: Budget | None = None,
    on_flag: OnFlag = "check",
) -> list[Flag]:
    """Every flag the jobs raise, in order.

    events: what was serviced or checked between the jobs. budget: how many false flags are wished;
    one in 250 jobs where it is None. on_flag: "check" takes each flag as looked into at once and
    found in order, so that the resource is judged afresh from its next jobs; "hold" keeps it open
    until an event that ends it. Meanwhile what else moves is flagged, but nothing that an open
    flag could well be about.

    Raises BadInput for an event on a kind or a channel that does not exist, of what cannot be done,
    or before row -1, and for another on_flag.
    """
    watch = Watch(budget=budget or Budget(), on_flag=on_flag)
    return watch.take(jobs, events=events)


class Watch:
    """The three channels of one shop, between jobs."""

    def __init__(self, *, budget: Budget, on_flag: OnFlag = "hold") -> None:
        if on_flag not in ("check", "hold"):
            raise BadInput(why=f'on_flag is "check" or "hold", not {on_flag!r}.')
        self.budget = budget
        self.on_flag = on_flag
        self.channels = {one.name: ChannelWatch(one, fresh_state(one)) for one in CHANNELS}

    def take(self, jobs: Jobs, *, events: Sequence[Event] = ()) -> list[Flag]:
        """Learn from these jobs in order; the flags they raise. `before_job` counts these rows."""
        _refuse_unknown(events)
        events = in_order(events)
        flags = []
        for start, stop in pairwise([*_starts(events, len(jobs)), len(jobs)]):
            done = _between(events, start, stop, is_last=stop == len(jobs))
            taken = self._take(jobs.of(slice(start, stop)), done)
            flags += [replace(flag, job=flag.job + start) for flag in taken]
        return flags

    def _take(self, jobs: Jobs, events: Sequence[Event]) -> list[Flag]:
        doubted = np.zeros(len(jobs), dtype=bool)
        flags = []
        for name in ("height", "tilt", "spread"):
            channel = self.channels[name]
            off, readings, raised = self._run(channel, jobs, events, doubted)
            flags += raised
            if name == "height":
                doubted[_jobs_of(readings)[np.abs(off) > DOUBTED_AT]] = True
        return sorted(flags, key=lambda flag: flag.job)

    def _run(
        self, channel: ChannelWatch, jobs: Jobs, events: Sequence[Event], doubted: BoolArray
    ) -> tuple[FloatArray, Readings, list[Flag]]:
        first = [event for event in events if event.before_job == 0]
        _act(channel, _acted(channel, first), 0, until=0)
        channel.meet(_seen(jobs, COLUMNS[channel.settings.name]))
        readings = _readings(channel, jobs, doubted)
        arrays = channel.arrays
        threshold = self.budget.threshold(channel.settings)
        acted = _acted(channel, events[len(first) :])
        off = np.zeros(readings.y.size)
        step = partial(run, readings=readings, off=off, arrays=arrays)
        flags: list[Flag] = []
        job, event = 0, 0
        while job < len(jobs):
            if not channel.open:
                job, event, who = step(
                    channel.state,
                    events=acted,
                    start=job,
                    stop=len(jobs),
                    next_event=event,
                    threshold=threshold,
                )
            else:
                event = _act(channel, acted, event, until=job)
                who = _one_job(channel, step, job, threshold=threshold)
                job += 1
            if who < 0:
                continue
            flags.append(_flag(channel, job - 1, who, threshold=threshold))
            if self.on_flag == "check":
                forget_hypotheses(channel.state, who)
            else:
                channel.hold(who)
        _act(channel, acted, event, until=AFTER_ALL)
        return off, readings, flags


def _starts(events: Sequence[Event], jobs: int) -> list[int]:
    """The rows to begin anew at: what was put right to see has a place for what it was, between
    those of the resources met before and after it, in whatever portions the jobs are told."""
    renewed = {event.before_job for event in events if event.what == "renewed"}
    return [0, *sorted(row for row in renewed if 0 < row < jobs)]


def _between(events: Sequence[Event], start: int, stop: int, *, is_last: bool) -> list[Event]:
    """Those before the rows from start to stop, counted from start; with all that come after them,
    for the last."""
    return [
        replace(event, before_job=event.before_job - start)
        for event in events
        if start <= event.before_job and (event.before_job < stop or is_last)
    ]


def _act(channel: ChannelWatch, acted: IntArray, event: int, *, until: int) -> int:
    """What was done before this job, from the event numbered so on; the next one's number."""
    while event < len(acted) and acted[event, 0] <= until:
        channel.act(*acted[event, 1:].tolist())
        event += 1
    return event


def _one_job(
    channel: ChannelWatch,
    step: Callable[..., tuple[int, int, int]],
    job: int,
    *,
    threshold: float,
) -> int:
    """Every open flag's story, and the state that looks for the next flag, take one job; the place
    that is flagged, -1 for none."""
    who = -1
    # The newest comes last: what it makes of a reading is what `off` says.
    for state in channel.states:
        flagged_from = threshold if state is channel.newest else np.inf
        _, _, who = step(
            state,
            events=NO_EVENTS,
            start=job,
            stop=job + 1,
            next_event=0,
            threshold=flagged_from,
        )
    if who >= 0 and channel.is_told(who):
        # It has moved further, or was the one after all: no story of its own.
        grant(channel.newest, channel.arrays)
        return -1
    return who


def _refuse_unknown(events: Sequence[Event]) -> None:
    kinds = sorted({kind.name for one in CHANNELS for kind in one.kinds})
    channels = [one.name for one in CHANNELS]
    for event in events:
        if event.kind not in kinds:
            raise BadInput(why=f"No {event.kind} is watched; {', '.join(kinds)} are.")
        if event.what not in WHAT:
            raise BadInput(why=f"What is done is one of {', '.join(WHAT)}, not {event.what!r}.")
        if event.channel not in (None, *channels):
            raise BadInput(why=f"There is no channel {event.channel!r}; {', '.join(channels)} are.")
        if event.before_job != int(event.before_job) or event.before_job < 0:
            raise BadInput(why=f"before_job is a row from 0 on, not {event.before_job}.")


# Which columns of Jobs name a channel's resources, and of which kind.
COLUMNS = {
    "tilt": {"fixture": "fixture", "operator": "operator", "found_fixture": "fixture"},
    "height": {
        "lathe": "lathe",
        "edge": "edge",
        "operator": "operator",
        "gauge_achieved": "gauge",
        "gauge_found": "gauge",
    },
    "spread": {"operator": "operator", "gauge_achieved": "gauge"},
}
MAKERS = {"tilt": tilt_readings, "height": height_readings, "spread": spread_readings}


def _seen(jobs: Jobs, columns: dict[str, str]) -> list[tuple[str, int]]:
    """Every resource of a channel in the order the jobs first name them."""
    first: dict[tuple[str, int], tuple[int, int]] = {}
    for at, (column, kind) in enumerate(columns.items()):
        ids, rows = np.unique(getattr(jobs, column), return_index=True)
        for one, row in zip(ids.tolist(), rows.tolist(), strict=True):
            if one >= 0:
                key = (kind, one)
                first[key] = min(first.get(key, (row, at)), (row, at))
    return sorted(first, key=first.__getitem__)


def _readings(channel: ChannelWatch, jobs: Jobs, doubted: BoolArray) -> Readings:
    columns = COLUMNS[channel.settings.name]
    place = {
        column: np.where(doubted, -1, channel.places(kind, getattr(jobs, column)))
        for column, kind in columns.items()
    }
    return MAKERS[channel.settings.name](
        jobs, place=place, settings=channel.settings, left_out=doubted
    )


def _acted(channel: ChannelWatch, events: Sequence[Event]) -> IntArray:
    """Events on resources this channel knows, as rows (before which job, what, which place)."""
    place = {key: at for at, key in enumerate(channel.keys)}
    rows = [
        (one.before_job, WHAT[one.what], place[(one.kind, one.resource)])
        for one in events
        if (one.kind, one.resource) in place and one.channel in (None, channel.settings.name)
    ]
    return np.array(rows, dtype=np.int64).reshape(len(rows), 3)


def _flag(channel: ChannelWatch, job: int, who: int, *, threshold: float) -> Flag:
    state, arrays = channel.newest, channel.arrays
    return Flag(
        job=job,
        channel=channel.settings.name,
        suspects=suspects_of(state, arrays, channel.keys),
        log_evidence=float(evidence_of_each(state, arrays.log_prior)[who]),
        threshold=threshold,
        move=move_of(state, who, arrays),
    )


def _jobs_of(readings: Readings) -> IntArray:
    return np.repeat(np.arange(readings.start.size - 1), np.diff(readings.start))
