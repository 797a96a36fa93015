"""Watch a shop's jobs for a fixture, edge, lathe, gauge or pair of hands that has moved.

`watch_jobs` is the plain function: arrays of jobs in, flags out. `Watch` is the same thing kept
between jobs: feeding it the jobs one by one, in any portions, gives the same flags and the same
state to the last bit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from qc.errors import BadInput
from qc.numerics.drift.bank import CHECKED, SERVICED
from qc.numerics.drift.channel import Compiled, act, as_arrays, run
from qc.numerics.drift.channel_settings import RIVAL_WALK, ChannelSettings
from qc.numerics.drift.defaults import CHANNELS
from qc.numerics.drift.hypotheses import evidence_of_each, forget_hypotheses
from qc.numerics.drift.jobs import Event, Jobs, in_order
from qc.numerics.drift.readings import (
    Readings,
    height_readings,
    spread_readings,
    tilt_readings,
)
from qc.numerics.drift.state import (
    RESOURCES,
    STATES,
    ChannelState,
    fresh_state,
    with_room,
)
from qc.numerics.drift.suspects import (
    NAMED_AT,
    Move,
    Suspect,
    move_of,
    probabilities,
    smallest_set,
)
from qc.numerics.drift.thresholds import Budget
from qc.numerics.results import FloatArray, IntArray
from qc.numerics.series import BoolArray

# A height this many standard deviations out is a slip of the pen or of the unit: nothing else of
# that job is learned from.
DOUBTED_AT = 8.0

WHAT = {"serviced": SERVICED, "checked": CHECKED}

OnFlag = Literal["check", "hold"]


@dataclass(frozen=True)
class Flag:
    """Raised by a job: something moved.

    job: its row. channel: "tilt", "height" or "spread". suspects: the smallest set that holds the
    one in nine of ten cases, whatever moved, likeliest first. named: the first of them alone, when
    it is at least 80 % likely. log_evidence: of the likeliest, above which threshold. move: of the
    likeliest.
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
        return self.likeliest if self.likeliest.probability >= NAMED_AT else None


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
    until an event on that resource, and raises no other for it meanwhile.

    Raises BadInput for an event on a kind that does not exist.
    """
    watch = Watch(budget=budget or Budget(), on_flag=on_flag)
    return watch.take(jobs, events=events)


@dataclass(eq=False)
class ChannelWatch:
    """One channel: its state, and which resource is at which place of it."""

    settings: ChannelSettings
    state: ChannelState
    keys: list[tuple[str, int]] = field(default_factory=list)
    held: BoolArray = field(default_factory=lambda: np.zeros(0, dtype=bool))

    @property
    def arrays(self) -> Compiled:
        return as_arrays(self.settings)

    def places(self, kind: str, ids: IntArray) -> IntArray:
        """Each id's place, -1 for none. Every id must have been seen."""
        known = [(one[1], at) for at, one in enumerate(self.keys) if one[0] == kind]
        if not known:
            return np.full(ids.size, -1, dtype=np.int64)
        names, at = (np.array(column) for column in zip(*sorted(known), strict=True))
        found = np.minimum(np.searchsorted(names, ids), names.size - 1)
        return np.where(names[found] == ids, at[found], -1)

    def meet(self, seen: Sequence[tuple[str, int]]) -> None:
        """Give each resource not seen before its place, in this order."""
        known = set(self.keys)
        new = [key for key in dict.fromkeys(seen) if key not in known]
        if not new:
            return
        d, kinds = self.settings.deltas, [kind.name for kind in self.settings.kinds]
        wanted = len(self.keys) + len(new)
        room = wanted if wanted <= self.state.own.size else max(wanted, 2 * self.state.own.size)
        self.state = with_room(self.state, deltas=d, resources=room)
        for key in new:
            state, kind = self.state, kinds.index(key[0])
            at, row = len(self.keys), int(self.state.counts[STATES])
            state.kind[at] = kind
            state.prior_var[at] = self.settings.kinds[kind].sd ** 2
            state.rival_walk[at] = RIVAL_WALK if self.settings.kinds[kind].wanders else 1.0
            for p in (state.p, state.rival_p):
                p[range(row, row + d), range(row, row + d)] = state.prior_var[at]
            state.counts[RESOURCES] += 1
            state.counts[STATES] += d
            self.keys.append(key)
        self.held = np.concatenate([self.held, np.zeros(len(new), dtype=bool)])


class Watch:
    """The three channels of one shop, between jobs."""

    def __init__(self, *, budget: Budget, on_flag: OnFlag = "hold") -> None:
        self.budget = budget
        self.on_flag = on_flag
        self.channels = {one.name: ChannelWatch(one, fresh_state(one)) for one in CHANNELS}

    def take(self, jobs: Jobs, *, events: Sequence[Event] = ()) -> list[Flag]:
        """Learn from these jobs in order; the flags they raise. `before_job` counts these rows."""
        kinds = {kind.name for one in CHANNELS for kind in one.kinds}
        for event in events:
            if event.kind not in kinds:
                raise BadInput(why=f"No {event.kind} is watched; {', '.join(sorted(kinds))} are.")
        events = in_order(events)
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
        channel.meet(_seen(jobs, COLUMNS[channel.settings.name]))
        readings = _readings(channel, jobs, doubted)
        arrays = channel.arrays
        threshold = self.budget.threshold(channel.settings)
        acted = _acted(channel, events)
        off = np.zeros(readings.y.size)
        flags: list[Flag] = []
        job, event = 0, 0
        while job < len(jobs):
            job, event, who = run(
                channel.state,
                readings,
                acted,
                start=job,
                stop=len(jobs),
                next_event=event,
                threshold=threshold,
                held=channel.held,
                off=off,
                arrays=arrays,
            )
            if who < 0:
                break
            flags.append(_flag(channel, job - 1, who, threshold=threshold, arrays=arrays))
            if self.on_flag == "check":
                forget_hypotheses(channel.state, who)
            else:
                channel.held[who] = True
        for one in acted[event:]:
            act(channel.state, one, channel.held, arrays.first, arrays.deltas)
        return off, readings, flags


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


def _flag(channel: ChannelWatch, job: int, who: int, *, threshold: float, arrays: Compiled) -> Flag:
    chances = probabilities(channel.state, arrays)
    return Flag(
        job=job,
        channel=channel.settings.name,
        suspects=tuple(
            Suspect(*channel.keys[place], probability=float(chances[place]))
            for place in smallest_set(chances)
        ),
        log_evidence=float(evidence_of_each(channel.state, arrays.log_prior)[who]),
        threshold=threshold,
        move=move_of(channel.state, who, arrays),
    )


def _jobs_of(readings: Readings) -> IntArray:
    return np.repeat(np.arange(readings.start.size - 1), np.diff(readings.start))
