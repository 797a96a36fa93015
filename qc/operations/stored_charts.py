"""Bringing a stored chart up to date: the newest jobs alone, or again from a point in the past."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Generic, TypeVar

from django.db.models import Q

from qc.lookups.charts.kept_charts import (
    HasPlace,
    Kept,
    Place,
    place_of,
)
from qc.models import ChartMark, StoredChart

MARK_EVERY = 25
# So many of the newest marks are kept, which the drawn jobs of a chart begin at; of older ones
# every second, then every fourth, and so on.
CLOSE_MARKS = 16

J = TypeVar("J", bound=HasPlace)
T = TypeVar("T")


@dataclass(frozen=True)
class Learnt(Generic[T]):
    """What the steps told, job by job. came_from: the place they began after, None from nothing.
    went_back: jobs that the chart had already were stepped again. state: after the newest job."""

    told: list[T]
    came_from: Place | None
    went_back: bool
    state: dict[str, Any]


def bring_up(
    kept: Kept[J, T], *, since: Place | None = None, chart: StoredChart | None = None
) -> Learnt[T]:
    """Step the chart through every job it does not have yet, in the caller's transaction.

    since: a place in the past from which something changed; the chart goes back to the last mark
    before it first. chart: the row where the caller has locked it already, and saves it.
    """
    row = lock([kept])[0] if chart is None else chart
    went_back = since is not None and row.at is not None and since <= _at(row)
    if went_back:
        assert since is not None
        _go_back(row, kept, since)
    came_from = place_of(row)
    told, state = [], row.state
    for job in kept.read(came_from):
        state, point = kept.step(state, job)
        row.jobs += 1
        row.at, row.result = job.place
        told.append(point)
        if row.jobs % MARK_EVERY == 0:
            _mark(row, kept.written(state))
    row.state = kept.written(state)
    if chart is None and (told or went_back):
        save([row])
    return Learnt(told, came_from, went_back, row.state)


def rebuild(kept: Kept[J, T]) -> Learnt[T]:
    """Step the chart through all of its jobs from nothing."""
    [chart] = lock([kept])
    had_any = chart.at is not None
    chart.marks.all().delete()
    _forget(chart, kept)
    learnt = bring_up(kept, chart=chart)
    save([chart])
    return replace(learnt, went_back=had_any)


def lock(kepts: Sequence[Kept[Any, Any]]) -> list[StoredChart]:
    """The rows of charts of one kind, made where they are new, held to the end of the transaction.

    Two workers never step one chart at once.
    """
    keys = [kept.key for kept in kepts]
    own = StoredChart.objects.select_for_update().filter(kind=kepts[0].kind, key__in=keys)
    found = {one.key: one for one in own}
    if len(found) < len(kepts):
        fresh = [
            StoredChart(kind=kept.kind, key=kept.key, state=kept.fresh())
            for kept in kepts
            if kept.key not in found
        ]
        StoredChart.objects.bulk_create(fresh, ignore_conflicts=True)
        found = {one.key: one for one in own.all()}
    return [found[key] for key in keys]


def save(charts: Sequence[StoredChart]) -> None:
    StoredChart.objects.bulk_update(charts, ["jobs", "at", "result", "state"])


def marks_kept(newest: int) -> set[int]:
    """Which of the marks 1 to `newest` are kept; those of half the age stand twice as close.

    How many grows with the logarithm of the history, and to step again from the mark before some
    job takes at most about twice the jobs that came since. A mark once left out is never wanted
    again while jobs are only added, so that stepping from nothing leaves the same ones.
    """
    kept = set(range(max(1, newest - CLOSE_MARKS + 1), newest + 1))
    age, apart = CLOSE_MARKS, 2
    while age < newest:
        youngest, oldest = newest - age, max(1, newest - 2 * age + 1)
        kept |= set(range(youngest - youngest % apart, oldest - 1, -apart))
        age, apart = 2 * age, 2 * apart
    return kept


def _mark(chart: StoredChart, state: dict[str, Any]) -> None:
    at, result = _at(chart)
    ChartMark.objects.create(chart=chart, jobs=chart.jobs, at=at, result=result, state=state)
    kept = [MARK_EVERY * number for number in marks_kept(chart.jobs // MARK_EVERY)]
    chart.marks.exclude(jobs__in=kept).delete()


def _at(chart: StoredChart) -> Place:
    place = place_of(chart)
    assert place is not None
    return place


def _go_back(chart: StoredChart, kept: Kept[Any, Any], since: Place) -> None:
    reached = Q(at__gt=since.at) | Q(at=since.at, result__gte=since.result)
    chart.marks.filter(reached).delete()
    mark = chart.marks.last()
    if mark is None:
        _forget(chart, kept)
    else:
        chart.jobs, chart.at, chart.result = mark.jobs, mark.at, mark.result
        chart.state = mark.state


def _forget(chart: StoredChart, kept: Kept[Any, Any]) -> None:
    chart.jobs, chart.at, chart.result, chart.state = 0, None, None, kept.fresh()
