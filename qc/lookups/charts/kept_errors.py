"""Charts of target error and of height error as they are stored and stepped."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from django.db.models import QuerySet

from qc.lookups.charts.kept_charts import Place, WrittenAsItIs
from qc.lookups.charts.rule_sets import (
    LONGEST_PATTERN,
    Judged,
    judging,
    rule_of,
)
from qc.lookups.charts.scopes import (
    COLUMN,
    SHOP,
    Scope,
    scope_named,
)
from qc.models import Baseline, Channel, ChartKind, JobResult, Rule, ShopPolicy
from qc.numerics.charts.kept import (
    KeptPoint,
    KeptState,
    SumsState,
    frozen_chart,
    is_of_single_jobs,
    next_kept,
)
from qc.numerics.charts.running import RunningState
from qc.numerics.patterns import Rule as PatternRule
from qc.numerics.patterns import ZoneRule, made_by


@dataclass(frozen=True)
class ErrorJob:
    """A measured round on a chart of errors. value_mm: positive when the gap came out wider."""

    place: Place
    round_id: int
    value_mm: float
    policy_id: int


@dataclass(frozen=True)
class Fired:
    """A rule that begins to fire. limit_mm: what the value passed; rounds: whose jobs made it."""

    rule: Rule
    value_mm: float
    limit_mm: float | None
    rounds: tuple[int, ...]


@dataclass(frozen=True)
class ErrorPoint:
    """What the chart made of one job.

    kept: None while nothing could be judged. begins: the job began a new stretch. baseline: the
    key of the frozen limits it was judged by. firing: every rule that fires here; fired: those
    that begin to, and single jobs outside the limits each time.
    """

    job: ErrorJob
    begins: bool
    baseline: int | None
    judged_by: Judged
    kept: KeptPoint | None
    firing: tuple[Rule, ...]
    fired: tuple[Fired, ...]


COLUMNS = ("measured_at", "pk", "round_id", "policy_id")
VALUES = tuple(f"{channel}_mm" for channel in Channel)


class ErrorReader:
    """What charts of errors read, each thing once however many of them ask. until: the place of
    the last result they want."""

    def __init__(self, *, until: Place | None = None) -> None:
        self._until = until
        self._judging: dict[int, Judged] = {}
        self._baselines: list[Baseline] | None = None
        self._recent: tuple[Place, list[Any]] | None = None
        self._restarts: dict[Scope, tuple[datetime, list[datetime]]] = {}

    def results(self, scope: Scope) -> QuerySet[JobResult]:
        """Every result of the scope that counts on charts, in order."""
        results = JobResult.objects.filter(scope.jobs(), is_current=True, is_reading_only=False)
        if self._until is not None:
            results = results.filter(self._until.not_later(), measured_at__lte=self._until.at)
        return results.order_by("measured_at", "pk")

    def jobs(self, scope: Scope, after: Place | None) -> Iterator[Any]:
        """Rows of COLUMNS and VALUES after a place, or all of them."""
        if after is None:
            rows = self.results(scope).values_list(*COLUMNS, *VALUES)
            return rows.iterator(chunk_size=2000)
        return (
            row
            for row in self._since(after)
            if Place(row[0], row[1]) > after and scope.takes(row[len(COLUMNS) + len(VALUES) :])
        )

    def restarts(self, scope: Scope, after: Place | None) -> list[datetime]:
        """When stretches begin after a place, in order."""
        if after is None:
            return scope.service_times()
        known = self._restarts.get(scope)
        if known is None or after.at < known[0]:
            known = self._restarts[scope] = (after.at, scope.service_times(after=after.at))
        return known[1]

    def baselines(self, key: str) -> list[Baseline]:
        """The limits people froze for the chart of this key, the newest first."""
        if self._baselines is None:
            frozen = Baseline.objects.filter(chart__kind=ChartKind.ERRORS)
            self._baselines = list(frozen.select_related("chart"))
        return [one for one in self._baselines if one.chart.key == key]

    def judged_by(self, policy_id: int) -> Judged:
        """By the policy in force when a job was judged, so that the past stays as it was."""
        if policy_id not in self._judging:
            self._judging[policy_id] = judging(ShopPolicy.objects.get(pk=policy_id))
        return self._judging[policy_id]

    def _since(self, after: Place) -> list[Any]:
        """The whole shop's rows, and whose each is: few follow a place, while a lathe's own in the
        database are all there ever were."""
        if self._recent is None or after < self._recent[0]:
            rows = self.results(SHOP).filter(after.later(), measured_at__gte=after.at)
            found = list(rows.values_list(*COLUMNS, *VALUES, *COLUMN.values()))
            self._recent = (after, found)
        return self._recent[1]


class ErrorChartKept(WrittenAsItIs):
    """Target error or height error of one scope."""

    kind = ChartKind.ERRORS

    def __init__(self, channel: Channel, scope: Scope, reader: ErrorReader | None = None) -> None:
        self.channel, self.scope = channel, scope
        self.key = f"{channel}/{scope}"
        self._reader = reader or ErrorReader()
        self._restarts: Sequence[datetime] = ()
        self._baselines: Sequence[Baseline] = ()

    @classmethod
    def of_key(cls, key: str) -> ErrorChartKept:
        """The chart that a stored row's key names."""
        channel, _, scope = key.partition("/")
        return cls(Channel(channel), scope_named(scope))

    def columns(self) -> tuple[str, ...]:
        """The columns of a result that make one of its jobs."""
        return (*COLUMNS, f"{self.channel}_mm")

    def fresh(self) -> dict[str, Any]:
        return {"at": None, "limits_of": 0, "kept": None, "rounds": [], "firing": []}

    def results(self) -> QuerySet[JobResult]:
        """Every result on this chart, in order."""
        return self._reader.results(self.scope).filter(**{f"{self.channel}_mm__isnull": False})

    def read(self, after: Place | None) -> Iterator[ErrorJob]:
        self._restarts = self._reader.restarts(self.scope, after)
        self._baselines = self._reader.baselines(self.key)
        column = len(COLUMNS) + list(Channel).index(self.channel)
        for row in self._reader.jobs(self.scope, after):
            at, pk, round_id, policy_id = row[: len(COLUMNS)]
            if row[column] is not None:
                yield ErrorJob(Place(at, pk), round_id, float(row[column]), policy_id)

    def step(self, state: dict[str, Any], job: ErrorJob) -> tuple[dict[str, Any], ErrorPoint]:
        at = job.place.at
        before = None if state["at"] is None else datetime.fromisoformat(state["at"])
        limits_of = self._limits_of(at)
        is_new = state["kept"] is None or limits_of != state["limits_of"]
        begins = is_new or any(before is not None and before < one <= at for one in self._restarts)
        kept = self._start(limits_of) if is_new else kept_from(state["kept"])
        judged_by = self._reader.judged_by(job.policy_id)
        after, point = next_kept(kept, job.value_mm, begins=begins, judging=judged_by.by)
        rounds = [*([] if begins else state["rounds"]), job.round_id][-LONGEST_PATTERN:]
        fires = () if point is None else _fires(point, after, job, rounds, judged_by)
        already = set() if begins else set(state["firing"])
        firing = tuple(one.rule for one in fires)
        told = ErrorPoint(
            job=job,
            begins=begins,
            baseline=limits_of if limits_of > 0 else None,
            judged_by=judged_by,
            kept=point,
            firing=firing,
            fired=tuple(
                one for one in fires if one.rule == Rule.INDIVIDUALS or one.rule not in already
            ),
        )
        return {
            "at": at.isoformat(),
            "limits_of": limits_of,
            "kept": asdict(after),
            "rounds": rounds,
            "firing": [str(rule) for rule in firing],
        }, told

    def _limits_of(self, at: datetime) -> int:
        """The key of the baseline that holds; below zero that of the last one given up, after
        which limits are estimated afresh; 0 before any."""
        ended = 0
        for one in self._baselines:  # newest first
            if one.holds_from <= at and (one.holds_until is None or at < one.holds_until):
                return one.pk
            if one.holds_until is not None and one.holds_from < one.holds_until <= at:
                ended = max(ended, one.pk)
        return -ended

    def _start(self, limits_of: int) -> KeptState:
        held = next((one for one in self._baselines if one.pk == limits_of), None)
        if held is None:
            return KeptState()
        return frozen_chart(
            held.centre_mm, held.sigma_mm, jobs=held.job_count, pairs=held.pair_count
        )


def kept_from(told: dict[str, Any]) -> KeptState:
    """The state as it was before it was written down."""
    running, sums = told["running"], told["sums"]
    return KeptState(
        **{
            **told,
            "readings": tuple(told["readings"]),
            "begins": tuple(told["begins"]),
            "sums": sums and SumsState(**sums),
            "running": running and RunningState(**{**running, "tail": tuple(running["tail"])}),
        }
    )


def _fires(
    point: KeptPoint, after: KeptState, job: ErrorJob, rounds: Sequence[int], judged_by: Judged
) -> tuple[Fired, ...]:
    judged = point.judged
    assert after.running is not None  # a judged job has left a running state
    tail = after.running.tail
    found = []
    for rule in judged.fired:
        if rule not in judged_by.patterns and rule_of(rule) not in judged_by.lines:
            continue
        made = tuple(rounds[i - len(tail)] for i in made_by(tail, rule))
        found.append(Fired(rule_of(rule), job.value_mm, _passed(rule, point), made))
    if judged.ewma_signal and Rule.EWMA in judged_by.lines:
        side = 1 if judged.ewma > point.centre else -1
        edge = point.centre + side * judged.half_width
        found.append(Fired(Rule.EWMA, judged.ewma, edge, (job.round_id,)))
    sums, limits = point.sums, judged_by.by.sums
    if sums is not None and limits is not None and sums.is_beyond(limits):
        is_wide = sums.high > limits.h
        value, side, run = (
            (sums.high, 1, sums.high_run) if is_wide else (sums.low, -1, sums.low_run)
        )
        edge = side * limits.h * point.sigma
        found.append(Fired(Rule.SUMS, side * value * point.sigma, edge, tuple(rounds[-run:])))
    return tuple(found)


def _passed(rule: PatternRule, point: KeptPoint) -> float | None:
    """The edge that the newest job lies beyond; None for a rule that has no such edge."""
    if not isinstance(rule, ZoneRule) or rule.low < 0:
        return None
    side = 1 if point.judged.z >= 0 else -1
    width = point.width if is_of_single_jobs(rule) else rule.low
    return point.centre + side * width * point.sigma
