"""Signals of the shop's and the lathes' charts of errors: raised once, withdrawn when corrected.

Charts of an edge or a gauge keep their state and raise none: the same job would be told thrice.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from qc.lookups.charts.kept_charts import Place
from qc.lookups.charts.kept_errors import (
    ErrorChartKept,
    ErrorPoint,
    ErrorReader,
    Fired,
)
from qc.lookups.charts.scopes import (
    SHOP,
    Scope,
    ScopeKind,
)
from qc.models import Channel, JobResult, Rule, Signal
from qc.operations.stored_charts import Learnt, bring_up, lock, rebuild, save

TELLS = (ScopeKind.SHOP, ScopeKind.LATHE)


def follow(scopes: Sequence[Scope], *, at: datetime, since: Place | None = None) -> None:
    """Bring both charts of every scope up to date and let their signals follow."""
    reader = ErrorReader()
    charts = [ErrorChartKept(channel, scope, reader) for scope in scopes for channel in Channel]
    rows = lock(charts)
    for chart, row in zip(charts, rows, strict=True):
        _settle(chart, bring_up(chart, since=since, chart=row), at=at)
    save(rows)


def follow_one(chart: ErrorChartKept, *, at: datetime, since: Place) -> None:
    """Bring one chart up again from a place in its past, and let its signals follow."""
    _settle(chart, bring_up(chart, since=since), at=at)


def one_at_a_time() -> None:
    """Hold the shop's first chart to the end of the transaction: whoever else works on charts
    waits, and nobody waits in a circle."""
    lock([ErrorChartKept(Channel.TARGET_ERROR, SHOP)])


def rebuild_errors(chart: ErrorChartKept, *, at: datetime) -> None:
    """Step the chart from nothing and let its signals follow."""
    _settle(chart, rebuild(chart), at=at)


def _settle(chart: ErrorChartKept, learnt: Learnt[ErrorPoint], *, at: datetime) -> None:
    if chart.scope.kind not in TELLS:
        return
    is_new = learnt.went_back or learnt.came_from is None
    known = _known(chart, learnt.came_from) if is_new else {}
    fresh: list[Signal] = []
    for point in learnt.told:
        for fired in point.fired:
            old = known.pop((point.job.round_id, fired.rule), None)
            if old is None:
                fresh.append(_signal(chart, point.job.round_id, fired, at=at))
            else:
                _renew(old, fired)
    if fresh:
        Signal.objects.bulk_create(fresh)
    gone = [one.pk for one in known.values() if one.withdrawn_at is None]
    if gone:
        Signal.objects.filter(pk__in=gone).update(withdrawn_at=at)


def _known(chart: ErrorChartKept, came_from: Place | None) -> dict[tuple[int, Rule], Signal]:
    """The chart's signals at jobs after a place, the withdrawn ones too."""
    lathe_id = chart.scope.lathe_id
    signals = Signal.objects.filter(channel=chart.channel)
    signals = signals.filter(lathe=None) if lathe_id is None else signals.filter(lathe_id=lathe_id)
    if came_from is not None:
        reached = JobResult.objects.filter(measured_at__gte=came_from.at).values("round_id")
        signals = signals.filter(round__in=reached)
        kept = chart.results().filter(measured_at=came_from.at, pk__lte=came_from.result)
        signals = signals.exclude(round__in=kept.values("round_id"))
    return {(one.round_id, Rule(one.rule)): one for one in signals}


def _signal(chart: ErrorChartKept, round_id: int, fired: Fired, *, at: datetime) -> Signal:
    return Signal(
        channel=chart.channel,
        lathe_id=chart.scope.lathe_id,
        rule=fired.rule,
        round_id=round_id,
        at=at,
        value_mm=fired.value_mm,
        limit_mm=fired.limit_mm,
        rounds=list(fired.rounds),
    )


def _renew(signal: Signal, fired: Fired) -> None:
    now = (fired.value_mm, fired.limit_mm, list(fired.rounds), None)
    if now != (signal.value_mm, signal.limit_mm, signal.rounds, signal.withdrawn_at):
        Signal.objects.filter(pk=signal.pk).update(
            value_mm=fired.value_mm,
            limit_mm=fired.limit_mm,
            rounds=list(fired.rounds),
            withdrawn_at=None,
        )
