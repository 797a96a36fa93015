"""The lanes of a lathe's, edge's, gauge's or person's jobs: one for each channel it bears on."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import datetime
from typing import Any

import plotly.graph_objects as go
from django.utils.timezone import localtime

from dashboards.figures.lanes import time_lanes, time_lanes_table
from dashboards.figures.rows import Lane, LanePoint, ServiceTick, TimeLanes
from qc.actor import Actor
from qc.lookups.pages.resource_lanes import (
    OwnJob,
    ResourceLanes,
    resource_lanes,
)
from qc.lookups.pages.stands import lanes_of, stands
from qc.lookups.watch.beliefs import Called
from qc.models import DriftChannel

Value = Callable[[OwnJob], float | None]
# A spread's level is kept as the log of its variance over that of 0.010 mm.
SPREAD_OF_0_MM = 0.010


def standing_drawn(
    kind: str, key: int, by: Actor, *, called: Called | None = None
) -> dict[str, Any]:
    """What a page shows of how it stands: the words, and the table twin of its lanes."""
    found = stands(kind, key, by, called=called)
    told = resource_lanes(kind, key, flags=found.held.flags, believed=found.believed)
    rows = resource_lane_rows(told)
    table = time_lanes_table(rows, unit=by.person.unit) if rows.lanes else None
    return {
        "stands": found,
        "flags": found.held.flags,
        "lanes_table": table,
        "lanes_shown": len(told.jobs) if told.are_older else None,
    }


def lanes_drawing(kind: str, key: int, by: Actor) -> go.Figure:
    return time_lanes(resource_lane_rows(lanes_of(kind, key, by)), unit=by.person.unit)


def resource_lane_rows(found: ResourceLanes) -> TimeLanes:
    """A lane that no job has a value for is left out."""
    lanes = [lane for channel in found.channels for lane in _lanes(channel, found)]
    return TimeLanes(
        lanes=tuple(one for one in lanes if one.points),
        services=tuple(
            ServiceTick(localtime(one.at), one.get_kind_display()) for one in found.services
        ),
    )


def _lanes(channel: DriftChannel, found: ResourceLanes) -> list[Lane]:
    if channel == DriftChannel.HEIGHT:
        return [_lane(found, channel, "Height error", lambda one: one.height_error_mm)]
    if channel == DriftChannel.SPREAD:
        return [_lane(found, channel, "Spread of repeats", lambda one: one.spread_mm)]
    return [
        _lane(found, channel, "Wide toward 0° (exhaust)", lambda one: one.toward_0_mm),
        _lane(found, channel, "Wide toward 90°", lambda one: one.toward_90_mm, axis=1),
    ]


def _lane(
    found: ResourceLanes, channel: DriftChannel, name: str, value: Value, *, axis: int = 0
) -> Lane:
    points = tuple(
        LanePoint(
            localtime(one.at), one.label, number, found.flagged.get((channel.value, one.round_id))
        )
        for one in found.jobs
        if (number := value(one)) is not None
    )
    return Lane(
        name,
        points,
        is_signed=channel != DriftChannel.SPREAD,
        running=_level(found, channel, axis, until=points[-1].at) if points else (),
        running_name="where jobs are expected",
        mark_name="flag",
    )


def _level(
    found: ResourceLanes, channel: DriftChannel, axis: int, *, until: datetime
) -> tuple[tuple[datetime, float], ...]:
    """From when it was last put right, or the first job shown, to its newest job."""
    told = found.levels.get(channel)
    if told is None or told.since is None or told.since > until:
        return ()
    level = told.belief.level[axis]
    if channel == DriftChannel.SPREAD:
        level = SPREAD_OF_0_MM * math.exp(level / 2)
    since = max(told.since, found.jobs[0].at) if found.are_older else told.since
    return ((localtime(since), level), (until, level))
