"""What needs someone today: flags, signals, jobs at work, verdicts, gauges, and the work behind."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import groupby

from qc.actor import Actor
from qc.lookups.flags.lines import FlagLine
from qc.lookups.flags.reindications import waiting
from qc.lookups.flags.told import flag_lines, flags_for
from qc.lookups.pages.fixture_page import label
from qc.lookups.pages.work import WorkTrouble, work_trouble
from qc.lookups.record.job_lists import JobRow, job_rows
from qc.lookups.record.progress import BenchStep, next_step
from qc.lookups.record.so_far import rounds_so_far
from qc.models import (
    CLOSED,
    EngineFamily,
    Fixture,
    Gauge,
    Job,
    Lathe,
    Reindication,
    Role,
    Signal,
    State,
    ToolEdge,
    VerdictKind,
)

SIGNALS_FROM = timedelta(days=14)
GAUGE_WARNING = timedelta(days=30)
JOBS_LISTED = 60
SIGNALS_READ = 60

NEXT_STEP: dict[BenchStep, str] = {
    BenchStep.AS_FOUND: "take the as-found readings",
    BenchStep.PLAN: "plan the cut",
    BenchStep.SET_UP: "set up at the lathe",
    BenchStep.INDICATE: "indicate the fixture",
    BenchStep.TOUCH_OFF: "touch off",
    BenchStep.PASSES: "take the passes",
    BenchStep.ACHIEVED: "measure what was achieved",
}
AFTER_VERDICT: dict[str | None, str] = {
    VerdictKind.ACCEPT: "release it",
    VerdictKind.CUT_AGAIN: "cut again, or let it go on concession",
    VerdictKind.UNDECIDED: "see why: measure again, cut again, or decide by hand",
    VerdictKind.REJECT: "out of limits and no cut can mend it: concession or scrap",
}


@dataclass(frozen=True)
class SignalLine:
    """What fired at one round to one side. charts: whose, "the whole shop" or a lathe's name."""

    at: datetime
    job_id: int
    label: str
    channels: Sequence[str]
    is_wide: bool
    rules: Sequence[str]
    charts: Sequence[str]


@dataclass(frozen=True)
class JobsAtStep:
    """step: what the page of each of these jobs says is next."""

    step: BenchStep
    next_step: str
    jobs: Sequence[JobRow]


@dataclass(frozen=True)
class VerdictLine:
    job: JobRow
    next_step: str


@dataclass(frozen=True)
class GaugeLine:
    gauge_id: int
    name: str
    due: date
    is_overdue: bool


@dataclass(frozen=True)
class Checklist:
    """What an empty shop needs before its first job; each is True once it is there."""

    lathe: bool
    edge: bool
    gauge: bool
    fixture: bool
    family: bool
    job: bool

    @property
    def is_done(self) -> bool:
        return all((self.lathe, self.edge, self.gauge, self.fixture, self.family, self.job))


@dataclass(frozen=True)
class TodayPage:
    """trouble is None, and reported empty, for those they are not for. jobs_unlisted: jobs at work
    beyond those shown."""

    checklist: Checklist
    flags: Sequence[FlagLine]
    signals: Sequence[SignalLine]
    verdicts: Sequence[VerdictLine]
    at_work: Sequence[JobsAtStep]
    jobs_unlisted: int
    gauges: Sequence[GaugeLine]
    trouble: WorkTrouble | None
    reported: Sequence[Reindication]

    @property
    def has_height_flag(self) -> bool:
        return any(one.is_height for one in self.flags)

    @property
    def is_quiet(self) -> bool:
        needs = (self.flags, self.reported, self.signals, self.verdicts, self.gauges, self.trouble)
        return not any(needs)


def today_page(*, now: datetime, today: date, by: Actor) -> TodayPage:
    """`today` is the date on the shop's clock."""
    at_work = Job.objects.exclude(state__in=CLOSED)
    rows = job_rows(at_work.order_by("pk")[:JOBS_LISTED])
    return TodayPage(
        checklist=_checklist(),
        flags=flag_lines(flags_for(by, is_open=True), by),
        signals=_signals(since=now - SIGNALS_FROM),
        verdicts=[
            VerdictLine(one, AFTER_VERDICT.get(one.verdict, "measure it again"))
            for one in rows
            if one.state == State.MEASURED
        ],
        at_work=_by_step(rows),
        jobs_unlisted=at_work.count() - len(rows),
        gauges=_gauges(today),
        trouble=work_trouble(now=now) if by.may(Role.LEAD) else None,
        reported=list(waiting()) if by.may(Role.LEAD) else [],
    )


def _checklist() -> Checklist:
    return Checklist(
        lathe=Lathe.objects.filter(retired_at=None).exists(),
        edge=ToolEdge.objects.filter(retired_at=None).exists(),
        gauge=Gauge.objects.filter(retired_at=None).exists(),
        fixture=Fixture.objects.filter(retired_at=None).exists(),
        family=EngineFamily.objects.filter(retired_at=None).exists(),
        job=Job.objects.exists(),
    )


def _signals(*, since: datetime) -> list[SignalLine]:
    """One line a round and side, however many rules, channels and charts say the same."""
    fired = Signal.objects.filter(at__gte=since, withdrawn_at=None).select_related("round", "lathe")
    rows = fired.order_by("-at", "round", "channel", "lathe", "rule")[:SIGNALS_READ]
    by_side: dict[tuple[int, bool], list[Signal]] = {}
    for one in rows:
        by_side.setdefault((one.round_id, one.is_wide), []).append(one)
    return [_signal_line(group) for group in by_side.values()]


def _signal_line(group: Sequence[Signal]) -> SignalLine:
    one = group[0]
    return SignalLine(
        at=one.at,
        job_id=one.round.job_id,
        label=label(one.round.job_id, one.round.number),
        channels=list(dict.fromkeys(each.get_channel_display() for each in group)),
        is_wide=one.is_wide,
        rules=sorted({each.get_rule_display() for each in group}),
        charts=list(
            dict.fromkeys("the whole shop" if e.lathe is None else e.lathe.name for e in group)
        ),
    )


def _by_step(rows: Sequence[JobRow]) -> list[JobsAtStep]:
    """Jobs short of a verdict, the nearest to their verdict first."""
    order = list(NEXT_STEP)
    so_far = rounds_so_far([one.number for one in rows])
    steps = [(one, next_step(one.state, so_far[one.number])) for one in rows]
    waiting = [(job, step) for job, step in steps if step in NEXT_STEP]
    waiting.sort(key=lambda one: -order.index(one[1]))
    return [
        JobsAtStep(step, NEXT_STEP[step], [job for job, _ in group])
        for step, group in groupby(waiting, key=lambda one: one[1])
    ]


def _gauges(today: date) -> list[GaugeLine]:
    due = Gauge.objects.filter(retired_at=None, calibration_due__lte=today + GAUGE_WARNING)
    return [
        GaugeLine(one.pk, one.name, one.calibration_due, is_overdue=one.calibration_due < today)
        for one in due.order_by("calibration_due", "name")
        if one.calibration_due is not None
    ]
