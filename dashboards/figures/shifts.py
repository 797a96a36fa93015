"""Levels and the shifts between them, drawn into a lane over time, and the words that go with."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from functools import partial
from typing import Any

import plotly.graph_objects as go

from dashboards.figures.lengths import ABSENT, SHOWN, ShownUnit
from dashboards.figures.rows import LevelSpan, ShiftMark, SpreadOverTime
from dashboards.figures.strip import (
    JOB_MARK,
    axis_name,
    dots,
    key,
    lane_axis,
    lane_title,
    path,
)
from dashboards.figures.table import Table, table
from dashboards.figures.theme import INK, RULE, new_figure, nothing_yet, padded, plain

LEVEL_LINE = {"color": INK, "width": 2.5}
SHIFT_LINE = {"color": INK, "width": 1.5, "dash": "dot"}


def shift_sentence(shift: ShiftMark, *, unit: str) -> str:
    """ "Shifted about 12 Mar 2026 (between 2 and 20 Mar 2026) by 0.012 mm wider." """
    shown = SHOWN[unit]
    between = ""
    if shift.earliest is not None and shift.latest is not None:
        first, last = shift.earliest.date(), shift.latest.date()
        if first == last:
            between = " (that day, as surely as can be told)"
        else:
            start = (
                f"{first.day}"
                if (first.year, first.month) == (last.year, last.month)
                else (day(shift.earliest))
            )
            between = f" (between {start} and {day(shift.latest)})"
    step = shown.text(abs(shift.step_mm))
    return f"Shifted about {day(shift.at)}{between} by {step} {shift.toward}."


def day(at: datetime) -> str:
    return f"{at.day} {at:%b %Y}"


def level_paths(lane: int, levels: Sequence[LevelSpan], shown: ShownUnit) -> list[go.Scatter]:
    """A firm line at each level, for as long as it held."""
    return [
        path(
            lane,
            x=[_x(level.since), _x(level.until)],
            y=[shown.of(level.mean_mm)] * 2,
            line=LEVEL_LINE,
        )
        for level in levels
    ]


def level_keys(shifts: Sequence[ShiftMark]) -> list[go.Scatter]:
    keys = [key("level", mode="lines", line=LEVEL_LINE)]
    if shifts:
        keys.append(key("shift, and where it may lie", mode="lines", line=SHIFT_LINE))
    return keys


def shift_shapes(shifts: Sequence[ShiftMark], *, top: float) -> list[dict[str, Any]]:
    """A dotted line where the level changed, over the time in which it may have."""
    shapes: list[dict[str, Any]] = []
    for shift in shifts:
        where = {"xref": "x", "yref": "paper", "y0": 0, "y1": top, "layer": "below"}
        if shift.earliest is not None and shift.latest is not None:
            shapes.append(
                {
                    **where,
                    "type": "rect",
                    "x0": _x(shift.earliest),
                    "x1": _x(shift.latest),
                    "fillcolor": RULE,
                    "opacity": 0.45,
                    "line": {"width": 0},
                }
            )
        shapes.append(
            {**where, "type": "line", "x0": _x(shift.at), "x1": _x(shift.at), "line": SHIFT_LINE}
        )
    return shapes


def spread_over_time(rows: SpreadOverTime, *, unit: str = "mm") -> go.Figure:
    """Each job's spread at one position, with the levels found in it."""
    if not rows.points:
        return nothing_yet("No job with repeats at one position yet")
    shown = SHOWN[unit]
    write = partial(shown.own_digits, signed=False)
    values = [value for _, _, value in rows.points]
    low, high = shown.of_pair(padded([0.0, *values]))
    words = [
        f"{plain(job)}, {day(at)}<br>spread {shown.text(value)}" for at, job, value in rows.points
    ]
    return new_figure(
        [
            key("one job", mode="markers", marker=JOB_MARK),
            *level_keys(rows.shifts),
            dots(
                0,
                x=[_x(at) for at, _, _ in rows.points],
                y=[shown.of(value) for value in values],
                words=words,
                mark=JOB_MARK,
            ),
            *level_paths(0, rows.levels, shown),
        ],
        shapes=shift_shapes(rows.shifts, top=0.92),
        annotations=[lane_title(f"Spread at one position, {unit}", domain=(0, 0.92))],
        margin={"l": 56, "r": 12, "t": 8, "b": 36},
        xaxis={"type": "date", "showgrid": False, "nticks": 8, "anchor": axis_name(0)},
        narrow={"margin.l": 48, "margin.r": 4, "xaxis.nticks": 4},
        **lane_axis(0, domain=(0, 0.92), reach=(max(low, 0.0), high), write=write),
    )


def levels_table(
    levels: Sequence[LevelSpan], shifts: Sequence[ShiftMark], *, unit: str, signed: bool
) -> Table:
    """One line a level, newest first, with the shift that began it."""
    shown = SHOWN[unit]
    began: list[ShiftMark | None] = [None, *shifts]
    headings = (
        "Since",
        "Until",
        "Jobs",
        f"Level, {unit}",
        f"Step, {unit}",
        "Began between",
    )
    return table(
        headings,
        (
            (
                day(level.since),
                day(level.until),
                str(level.jobs),
                shown.digits(level.mean_mm, signed=signed),
                ABSENT if shift is None else shown.digits(shift.step_mm, signed=True),
                _between(shift),
            )
            for level, shift in reversed(list(zip(levels, began, strict=False)))
        ),
    )


def trend_sentence(
    slope: float, low: float, high: float, *, is_seen: bool, up: str, down: str, unit: str
) -> str:
    """What Theil and Sen's slope, mm a month, comes to in words; up, down: what more and less of
    it are called."""
    shown = SHOWN[unit]
    if not is_seen:
        if not any(float(shown.digits(abs(end))) for end in (low, high)):
            least = shown.own_digits(Decimal(1).scaleb(-shown.places))
            return f"No steady drift to be seen: under {least} {shown.name} a month (95 %)."
        span = f"{shown.digits(low, signed=True)} to {shown.text(high, signed=True)}"
        return f"No steady drift to be seen: {span} a month (95 %)."
    ends = sorted([abs(low), abs(high)])
    way = up if slope > 0 else down
    return (
        f"Drifting {way} by {shown.text(abs(slope))} a month "
        f"(between {shown.digits(ends[0])} and {shown.text(ends[1])}, 95 %)."
    )


def _between(shift: ShiftMark | None) -> str:
    if shift is None or shift.earliest is None or shift.latest is None:
        return ABSENT
    return f"{day(shift.earliest)} and {day(shift.latest)}"


def _x(at: datetime) -> str:
    return at.replace(tzinfo=None).isoformat(timespec="minutes")
