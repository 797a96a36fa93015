"""Which job, check or service would tell the two leading suspects of a flag apart."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from qc.errors import BadInput
from qc.lookups.flags.lines import FlagLine
from qc.lookups.shop.policy import shop_policy
from qc.lookups.watch.as_recorded import (
    AsRecorded,
    as_recorded,
    fully,
)
from qc.lookups.watch.done import IN_WATCH
from qc.lookups.watch.what_pays import MINUTES
from qc.models import DriftChannel, Fixture, Gauge, Lathe, Person, ToolEdge
from qc.numerics.drift import Jobs, Suspect, Watch
from qc.numerics.drift.channel_watch import ChannelWatch
from qc.numerics.drift.miss import QUARTERS
from qc.numerics.drift.putting_right import is_right_already, service_trials
from qc.numerics.drift.separating import Trial, best_trial, every_job, job_trials, settles

# A job that hardly ever tells two apart is no advice.
LEAST_SETTLED = 0.01
# What settles it so much oftener is worth a sentence.
CLEARLY_OFTENER = 0.10


class Untold(StrEnum):
    """Why there is no trial. STEPPED: the watch is being brought up to date. PUT_RIGHT: nothing is
    held against one of the leading two since the newest job. UNLIKELY: no job or check does it."""

    STEPPED = "stepped"
    PUT_RIGHT = "put_right"
    UNLIKELY = "unlikely"


@dataclass(frozen=True)
class Use:
    """One thing that a job is made with. column: of the drift sums; value: its key, or degrees."""

    column: str
    value: float
    name: str

    @property
    def what(self) -> str:
        return WORDS[self.column]


@dataclass(frozen=True)
class Service:
    """kind: of what is put right first. minutes: that takes, by the shop's settings."""

    kind: str
    name: str
    minutes: int


@dataclass(frozen=True)
class TrialLine:
    """One way to tell the two leading suspects apart.

    uses: what the job would be made with; none for one cylinder measured with both `gauges`.
    service: what is put right first. read: how much of the job is read, and fully: were all read
    that can be, in words; empty where there is but one way. settles: probability that one of the
    two is then likely enough to be named; if_fully_read: the same read fully, where that is clearly
    oftener. log_odds: of the first against the second,
    as believed now. nats: by how much they are expected to move toward whichever it was.
    """

    settles: float
    log_odds: float
    nats: float
    uses: Sequence[Use] = ()
    gauges: tuple[str, str] | None = None
    service: Service | None = None
    read: str = ""
    fully: str = ""
    if_fully_read: float | None = None

    @property
    def of_100(self) -> int:
        """Never all of them: nothing is certain."""
        return min(99, round(100 * self.settles))

    @property
    def of_100_fully_read(self) -> int | None:
        return None if self.if_fully_read is None else min(99, round(100 * self.if_fully_read))

    @property
    def percent_now(self) -> int:
        """Of the first, of the two."""
        return _percent(self.log_odds)

    @property
    def percent_if_first(self) -> int:
        return _percent(self.log_odds + self.nats)

    @property
    def percent_if_second(self) -> int:
        return _percent(self.log_odds - self.nats)

    @property
    def set_up(self) -> Mapping[str, str]:
        """What of it a set-up says. Nothing of an edge that a fresh one takes the place of."""
        told = {SET_UP[one.column]: f"{one.value:g}" for one in self.uses if one.column in SET_UP}
        if self.service is not None and self.service.kind == "edge":
            del told["edge"]
        return told


@dataclass(frozen=True)
class Apart:
    """job: the best next job, or check with both gauges. surer: a service first, where that settles
    it clearly oftener, the better by the minute. One of them at least."""

    job: TrialLine | None
    surer: TrialLine | None


def _percent(log_odds: float) -> int:
    return min(99, max(1, round(100 / (1 + math.exp(-log_odds)))))


def telling_apart(line: FlagLine, watch: Watch | None) -> Apart | Untold | None:
    """With what the shop has in use, jobs being read as it reads them; None where one is named."""
    told = line.flag.suspects
    if line.named is not None or len(told) < 2:
        return None
    if watch is None:
        return Untold.STEPPED
    suspects = [
        Suspect(IN_WATCH.get(one["kind"], one["kind"]), one["key"], one["probability"])
        for one in told[:2]
    ]
    try:
        found = _Apart(line, watch, suspects)
        job, surer = found.job(), found.surer()
    except BadInput:
        # Nothing is held against one of the two any more; the next job will say so.
        return Untold.PUT_RIGHT
    job = None if job is None or job.settles < LEAST_SETTLED else job
    least = LEAST_SETTLED if job is None else job.settles + CLEARLY_OFTENER
    surer = None if surer is None or surer.settles < least else surer
    return Untold.UNLIKELY if job is None and surer is None else Apart(job, surer)


class _Apart:
    """The two, and what a job may be made with and read of it."""

    def __init__(self, line: FlagLine, watch: Watch, suspects: Sequence[Suspect]) -> None:
        self.line, self.suspects = line, suspects
        self.kind = DriftChannel(line.channel)
        first = suspects[0]
        self.channel: ChannelWatch = watch.channels[self.kind].about(first.kind, first.resource)
        self.usual = as_recorded(self.kind)
        in_use = _in_use(self.kind)
        self.gauges = in_use.get("gauge_achieved", [])
        self.free = {name: rows for name, rows in in_use.items() if rows}
        if self.kind == DriftChannel.HEIGHT and "gauge" in [one.kind for one in suspects]:
            # What a gauge reads wrong cancels where it read the cylinder as found too.
            self.free |= {"gauge_found": self.gauges} if self.gauges else {}
        lathes = ToolEdge.objects.values_list("pk", "lathe")
        self.lathe_of = dict(lathes) if "edge" in self.free else None
        chances = [one["probability"] for one in line.flag.suspects[:2]]
        self.log_odds = math.log(chances[0] / chances[1])

    def possible(self, read: AsRecorded) -> Jobs:
        return every_job(self.kind, lathe_of=self.lathe_of, read_as=read.read, **self.free)

    def job(self) -> TrialLine | None:
        """As the shop reads its jobs; where that hardly tells anything, read as fully as can be."""
        ways = [self.usual] if self.usual.is_full else [self.usual, fully(self.kind)]
        for read in ways:
            possible = self.possible(read)
            found = best_trial(self.channel, self.suspects, possible=possible, gauges=self.gauges)
            line = None if found is None else self._told(found, possible, read)
            if line is not None and (line.settles >= LEAST_SETTLED or read.is_full):
                return line
        return None

    def surer(self) -> TrialLine | None:
        """The service of one of the two that settles most by the minute, with the job after it."""
        possible = self.possible(self.usual)
        found: list[tuple[float, TrialLine]] = []
        for one, other in (self.suspects, self.suspects[::-1]):
            service = _service(one)
            if service is not None and not is_right_already(self.channel, one):
                trials = service_trials(self.channel, one, other, possible=possible)
                best = max(trials, key=lambda trial: trial.nats)
                line = self._told(best, possible, self.usual, service)
                found.append((line.settles / service.minutes, line))
        return max(found, key=lambda one: one[0])[1] if found else None

    def _told(
        self, found: Trial, possible: Jobs, read: AsRecorded, service: Service | None = None
    ) -> TrialLine:
        nats = found.nats
        often = settles(nats, self.log_odds)
        if found.gauges is not None:
            names = Gauge.objects.in_bulk(found.gauges)
            first, second = (names[pk].name for pk in found.gauges)
            return TrialLine(often, self.log_odds, nats, gauges=(first, second))
        assert found.row is not None
        fully_read = None if read.is_full else self._fully_read(found)
        oftener = fully_read is not None and fully_read >= often + CLEARLY_OFTENER
        return TrialLine(
            often,
            self.log_odds,
            nats,
            uses=list(self._uses(possible, found)),
            service=service,
            read=self._words(read),
            fully=fully(self.kind).words,
            if_fully_read=fully_read if oftener else None,
        )

    def _words(self, read: AsRecorded) -> str:
        if self.kind == DriftChannel.HEIGHT or read is not self.usual:
            return read.words
        comma = ", " if read.words else ""
        return f"{read.words}{comma}as the shop's last jobs mostly were"

    def _fully_read(self, found: Trial) -> float:
        """How likely the same job settles it with all read of it that can be."""
        assert found.row is not None
        alone = self.possible(fully(self.kind)).of(slice(found.row, found.row + 1))
        if found.serviced is None:
            [trial] = job_trials(self.channel, *self.suspects, possible=alone)
        else:
            other = next(one for one in self.suspects if one != found.serviced)
            [trial] = service_trials(self.channel, found.serviced, other, possible=alone)
        return settles(trial.nats, self.log_odds)

    def _uses(self, possible: Jobs, found: Trial) -> Iterator[Use]:
        """Without a person where the set holds one who is not named to this reader."""
        hidden = any(one.key is None for one in self.line.suspects)
        for column in self.free:
            value = float(getattr(possible, column)[found.row])
            if column != "operator" or not hidden:
                yield Use(column, value, _name(column, value))


def _service(of: Suspect) -> Service | None:
    """None for a person, and for what is retired."""
    if of.kind not in MINUTES:
        return None
    thing = THINGS[of.kind].objects.get(pk=of.resource)
    if thing.is_retired:
        return None
    return Service(of.kind, thing.name, getattr(shop_policy(), MINUTES[of.kind]))


WORDS = {
    "fixture": "fixture",
    "clocking_deg": "clocking",
    "operator": "measured by",
    "edge": "tool edge",
    "gauge_achieved": "gauge",
    "gauge_found": "as found with gauge",
}
# Under which name the set-up form takes it.
SET_UP = {"fixture": "fixture", "clocking_deg": "clocking", "edge": "edge"}
THINGS: dict[str, Any] = {"fixture": Fixture, "lathe": Lathe, "edge": ToolEdge, "gauge": Gauge}
NAMED: dict[str, Any] = {
    **THINGS,
    "operator": Person,
    "gauge_achieved": Gauge,
    "gauge_found": Gauge,
}


def _name(column: str, value: float) -> str:
    if column == "clocking_deg":
        return f"{value:.0f}\N{DEGREE SIGN}"
    return str(NAMED[column].objects.get(pk=int(value)).name)


def _in_use(channel: DriftChannel) -> dict[str, list[Any]]:
    """What the next job can be made with."""
    people = list(Person.objects.filter(is_active=True).values_list("pk", flat=True))
    gauges = list(Gauge.objects.filter(retired_at=None).values_list("pk", flat=True))
    if channel == DriftChannel.TILT:
        fixtures = Fixture.objects.filter(retired_at=None).values_list("pk", flat=True)
        return {"fixture": list(fixtures), "clocking_deg": list(QUARTERS), "operator": people}
    if channel == DriftChannel.SPREAD:
        return {"operator": people, "gauge_achieved": gauges}
    edges = ToolEdge.objects.filter(retired_at=None).values_list("pk", flat=True)
    return {"edge": list(edges), "operator": people, "gauge_achieved": gauges}
