"""A chart page as rows of its drawing: the same lanes on the shared time strip."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime

from django.utils.timezone import localtime

from dashboards.figures.rows import Band, Lane, LaneLimits, LanePoint, ServiceTick, TimeLanes
from qc.lookups.charts.chart_lane import (
    NO_SPAN,
    ChartJobRow,
    ChartLane,
)
from qc.lookups.charts.chart_page import ChartPage
from qc.lookups.pages.fixture_page import label


def chart_lane_rows(page: ChartPage) -> TimeLanes:
    rows = page.found.rows
    # A way of looking that stops early shows what was done while its own jobs were cut.
    until = rows[-1].point.at if rows and rows[-1] != page.rows[-1] else None
    return TimeLanes(
        lanes=tuple(_lane(one, rows) for one in page.found.lanes),
        services=tuple(
            ServiceTick(localtime(one.at), f"{one.subject.name} {one.get_kind_display()}")
            for one in page.services
            if until is None or one.at <= until
        ),
    )


def _lane(lane: ChartLane, rows: Sequence[ChartJobRow]) -> Lane:
    times = [localtime(one.point.at) for one in rows]
    held = [(at, v) for at, v in zip(times, lane.values, strict=True) if v is not None]
    return Lane(
        name=lane.name,
        points=tuple(
            LanePoint(at, label(one.point.job_id, one.point.round_number), value, said or None)
            for at, one, value, said in zip(times, rows, lane.values, lane.said, strict=True)
            if value is not None
        ),
        is_length=lane.is_length,
        is_signed=lane.is_signed,
        tolerance=None if lane.band is None else Band(*lane.band),
        stretches=tuple(_stretches(lane, times)),
        running=tuple(held) if lane.is_line else (),
        running_name=lane.line_name,
    )


def _stretches(lane: ChartLane, times: list[datetime]) -> Iterator[LaneLimits]:
    """Limits as long as they stay the same, each up to the job where the next ones begin."""
    begins = 0
    for i in range(1, len(times) + 1):
        if i < len(times) and lane.limits[i] == lane.limits[begins]:
            continue
        if lane.limits[begins] != NO_SPAN:
            until = times[min(i, len(times) - 1)]
            yield LaneLimits(times[begins], until, Band(*lane.limits[begins]))
        begins = i
