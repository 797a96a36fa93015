"""One chart of errors as its page and its address tell it, whichever way it is looked at."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from qc.lookups.charts.baselines import baselines_of, suggested_jobs
from qc.lookups.charts.chart_lane import (
    ChartJobRow,
    Lanes,
    Span,
)
from qc.lookups.charts.chart_lanes import View, lanes_of
from qc.lookups.charts.kept_charts import (
    Place,
    place_of,
    stored,
)
from qc.lookups.charts.kept_errors import (
    ErrorChartKept,
    ErrorPoint,
    ErrorReader,
)
from qc.lookups.charts.rule_sets import arl_wanted
from qc.lookups.charts.scopes import Scope, scope_of
from qc.lookups.record.channels import (
    JobPoint,
    newest,
    placed_points,
)
from qc.lookups.shop.pace import false_signal_pace
from qc.lookups.shop.policy import shop_policy
from qc.models import (
    Baseline,
    Channel,
    JobResult,
    Resource,
    ServiceEvent,
    StoredChart,
)
from qc.numerics.charts.first_jobs import BASELINE_JOBS, FEWEST_JOBS

# A drawing stays legible and quick up to so many jobs; older ones are in the record.
NEWEST = 400
SIGNALS_LISTED = 40


@dataclass(frozen=True)
class ChartSignal:
    """A rule that fired: at which job, since when, and the jobs that made the pattern."""

    point: JobPoint
    rule: str
    value_mm: float
    limit_mm: float | None
    made_by: Sequence[JobPoint]


@dataclass(frozen=True, eq=False)
class ChartPage:
    """subject: the lathe, edge or gauge, None for the whole shop. jobs_before: those too old to be
    shown. baseline: the frozen limits in force; limits_jobs: how many jobs an estimate rests on so
    far; is_held: they no longer follow the jobs. pace: how often a false signal comes.
    suggested: the first and the last job that limits could be frozen from.
    """

    channel: Channel
    subject: Resource | None
    view: View
    views: Sequence[View]
    found: Lanes
    rows: Sequence[ChartJobRow]
    jobs_before: int
    services: Sequence[ServiceEvent]
    signals: Sequence[ChartSignal]
    baseline: Baseline | None
    baselines: Sequence[Baseline]
    centre_mm: float | None
    sigma_mm: float | None
    limits_jobs: int
    is_held: bool
    pace: str | None
    suggested: tuple[int, int] | None

    @property
    def jobs_wanted(self) -> int:
        """How many more jobs before limits can be estimated."""
        return max(0, FEWEST_JOBS - self.limits_jobs)

    @property
    def is_coarse(self) -> bool:
        return self.sigma_mm == 0.0

    @property
    def scope(self) -> Scope:
        return scope_of(self.subject)


def chart_page(
    channel: Channel, subject: Resource | None, *, view: View | None, now: datetime
) -> ChartPage:
    """The newest jobs of one chart. No view asked for: single jobs, or the way of the first jobs
    while the baseline is thin."""
    chart = ErrorChartKept(channel, scope_of(subject))
    row = stored(chart)
    rows = _rows(chart, row)
    policy = shop_policy()
    kept = None if row is None else row.state["kept"]
    estimate = 0 if kept is None else len(kept["readings"])
    is_held = bool(kept and kept["is_held"])
    is_thin = not is_held and estimate < FEWEST_JOBS
    chosen = view or (View.FIRST if is_thin and len(rows) > 2 else View.SINGLES)
    baselines = list(baselines_of(chart))
    in_force = row.state["limits_of"] if row is not None else 0
    return ChartPage(
        channel=channel,
        subject=subject,
        view=chosen,
        views=_views(channel),
        found=lanes_of(
            chosen,
            rows,
            name=str(channel.label).capitalize(),
            band=_band(rows) if channel == Channel.TARGET_ERROR else None,
            arl=arl_wanted(policy),
        ),
        rows=rows,
        jobs_before=max(0, (row.jobs if row else 0) - len(rows)),
        services=_services(chart.scope, rows),
        signals=_signals(chart, rows),
        baseline=next((one for one in baselines if one.pk == in_force), None),
        baselines=baselines,
        centre_mm=kept and kept["centre"],
        sigma_mm=kept and kept["sigma"],
        limits_jobs=BASELINE_JOBS if is_held else estimate,
        is_held=is_held,
        pace=false_signal_pace(policy, chart.results(), now=now),
        suggested=suggested_jobs(chart),
    )


def _views(channel: Channel) -> list[View]:
    only_target = (View.SHARE, View.RANGE, View.DEVIATION, View.BETWEEN)
    return [one for one in View if channel == Channel.TARGET_ERROR or one not in only_target]


def _rows(chart: ErrorChartKept, row: StoredChart | None) -> list[ChartJobRow]:
    """The newest jobs the stored chart has, stepped again from the last mark before them."""
    last = None if row is None else place_of(row)
    if row is None or last is None:
        return []
    points = placed_points(newest(chart.results().filter(last.not_later()), NEWEST))
    if not points:
        return []
    begin = Place(points[0][1].at, points[0][0])
    # Of a chart that takes no more jobs, the shop's later ones are not read.
    until_last = ErrorChartKept(chart.channel, chart.scope, ErrorReader(until=last))
    told = _stepped(until_last, row, before=begin)
    positions = dict(
        JobResult.objects.filter(pk__in=[pk for pk, _ in points]).values_list(
            "pk", "detail__positions"
        )
    )
    return [
        ChartJobRow(
            point=point,
            value_mm=told[pk].job.value_mm,
            positions_mm=tuple(one["value_mm"] - point.target_mm for one in positions[pk]),
            told=told[pk],
        )
        for pk, point in points
        if pk in told
    ]


def _stepped(chart: ErrorChartKept, row: StoredChart, *, before: Place) -> dict[int, ErrorPoint]:
    marks = row.marks.filter(at__lte=before.at).order_by("-jobs")
    mark = next((one for one in marks[:3] if Place(one.at, one.result) < before), None)
    state = chart.fresh() if mark is None else mark.state
    told = {}
    for job in chart.read(None if mark is None else place_of(mark)):
        state, point = chart.step(state, job)
        told[job.place.result] = point
    return told


def _band(rows: Sequence[ChartJobRow]) -> Span | None:
    """The narrowest tolerance among the jobs."""
    if not rows:
        return None
    return (
        -min(one.point.tol_minus_mm for one in rows),
        min(one.point.tol_plus_mm for one in rows),
    )


def _services(scope: Scope, rows: Sequence[ChartJobRow]) -> list[ServiceEvent]:
    """What was done while the jobs shown were cut; the whole shop's page shows all of it that may
    move a height error."""
    if not rows:
        return []
    events = ServiceEvent.objects.filter(at__gte=rows[0].point.at)
    if scope.pk is not None:
        events = events.filter(scope.services())
    else:
        events = events.filter(fixture=None)
    return list(events.select_related("fixture", "lathe", "edge", "gauge").order_by("at"))


def _signals(chart: ErrorChartKept, rows: Sequence[ChartJobRow]) -> list[ChartSignal]:
    """Newest first. Those of an edge or a gauge are told here and nowhere else."""
    by_round = {one.point.round_id: one.point for one in rows}
    told = [(one.point, fired) for one in rows for fired in one.told.fired]
    return [
        ChartSignal(
            point=point,
            rule=str(fired.rule.label),
            value_mm=fired.value_mm,
            limit_mm=fired.limit_mm,
            made_by=[by_round[key] for key in fired.rounds if key in by_round],
        )
        for point, fired in reversed(told)
    ][:SIGNALS_LISTED]
