"""How close the shop lands: achieved minus target, job by job and month by month."""

from __future__ import annotations

from calendar import monthrange
from datetime import datetime, timedelta
from functools import partial
from typing import Any

import plotly.graph_objects as go

from dashboards.figures.lengths import ABSENT, SHOWN, ShownUnit
from dashboards.figures.month_events import TALLIED, events, service_lines, tally_cells
from dashboards.figures.rows import AccuracyOverMonths, MonthMean
from dashboards.figures.shifts import level_keys, level_paths, shift_shapes
from dashboards.figures.strip import axis_name, lane_axis, lane_title, quiet_band, tolerance_key
from dashboards.figures.table import Table, table
from dashboards.figures.theme import ACCENT, INK, QUIET, new_figure, nothing_yet, padded, plain

SHARE_ROOM = 0.24


def accuracy_over_months(rows: AccuracyOverMonths, *, unit: str = "mm") -> go.Figure:
    """Quiet points for jobs, a mark with its interval for each month, the share inside above."""
    if not rows.months:
        return nothing_yet("No measured jobs yet")
    shown = SHOWN[unit]
    values = [miss.target_error_mm for miss in rows.misses]
    values += [month.mean_mm for month in rows.months]
    values += [bound for bound in (rows.tolerance.low, rows.tolerance.high) if bound is not None]
    reach = shown.of_pair(padded(values))
    domain = (0.0, 1.0 - SHARE_ROOM)
    since, until = rows.months[0].month, rows.months[-1].month
    after = until + timedelta(days=monthrange(until.year, until.month)[1])
    low, high = (
        edge if bound is None else shown.of(bound)
        for bound, edge in zip((rows.tolerance.low, rows.tolerance.high), reach, strict=True)
    )
    titles = [
        lane_title(f"Achieved minus target, {unit}", domain=domain),
        {**lane_title("Inside tolerance, %", domain=(0, 1)), "yanchor": "top"},
    ]
    upright = [{**_share(month), "textangle": -90} for month in rows.months]
    return new_figure(
        [
            _jobs(rows, shown),
            _months(rows.months, shown),
            tolerance_key(),
            *(level_keys(rows.shifts) if rows.levels else []),
            *level_paths(0, rows.levels, shown),
            *events(rows, reach),
        ],
        shapes=[
            quiet_band(0, low=low, high=high),
            *service_lines(rows.services, top=domain[1]),
            _on_target(),
            *shift_shapes(rows.shifts, top=domain[1]),
        ],
        annotations=[*titles, *(_share(month) for month in rows.months)],
        margin={"l": 56, "r": 12, "t": 8, "b": 48},
        xaxis={
            "type": "date",
            "range": [since.isoformat(), after.isoformat()],
            "tickvals": [_middle(month) for month in rows.months],
            "ticktext": [f"{month.month:%b}<br>{month.month:%Y}" for month in rows.months],
            "showgrid": False,
        },
        narrow={
            "margin.l": 48,
            "margin.r": 4,
            "xaxis.ticktext": [f"{month.month:%b}"[0] for month in rows.months],
            "annotations": [*titles, *upright],
        },
        **lane_axis(0, domain=domain, reach=reach, write=partial(shown.own_digits, signed=True)),
    )


def accuracy_over_months_table(rows: AccuracyOverMonths, *, unit: str = "mm") -> Table:
    """One line a month, newest first: jobs, mean with its interval, share inside; then its flags,
    services and misses. A month without jobs has a line where it had any of those."""
    shown = SHOWN[unit]
    headings = (
        "Month",
        "Jobs",
        f"Mean target error, {unit}",
        f"Interval from, {unit}",
        f"Interval to, {unit}",
        "Inside tolerance, %",
        *TALLIED,
    )
    means = {month.month: month for month in rows.months}
    tallies = {one.month: one for one in rows.tallies}
    return table(
        headings,
        (
            (f"{one:%B %Y}", *_mean_cells(means.get(one), shown), *tally_cells(tallies.get(one)))
            for one in sorted({*means, *tallies}, reverse=True)
        ),
    )


def _mean_cells(month: MonthMean | None, shown: ShownUnit) -> tuple[str, ...]:
    if month is None:
        return ("0", ABSENT, ABSENT, ABSENT, ABSENT)
    return (
        str(month.jobs),
        shown.digits(month.mean_mm, signed=True),
        *(_bound(bound, shown) for bound in (month.interval.low, month.interval.high)),
        f"{month.share_inside * 100:.0f}",
    )


def _bound(value_mm: float | None, shown: ShownUnit) -> str:
    return ABSENT if value_mm is None else shown.digits(value_mm, signed=True)


def _middle(month: MonthMean) -> str:
    half = monthrange(month.month.year, month.month.month)[1] / 2
    start = datetime(month.month.year, month.month.month, 1)
    return (start + timedelta(days=half)).isoformat()


def _on_target() -> dict[str, Any]:
    return {
        "type": "line",
        "xref": "paper",
        "x0": 0,
        "x1": 1,
        "yref": axis_name(0),
        "y0": 0,
        "y1": 0,
        "layer": "between",
        "line": {"color": INK, "width": 1},
    }


def _jobs(rows: AccuracyOverMonths, shown: ShownUnit) -> go.Scatter:
    return go.Scatter(
        x=[miss.at.replace(tzinfo=None).isoformat(timespec="minutes") for miss in rows.misses],
        y=[shown.of(miss.target_error_mm) for miss in rows.misses],
        mode="markers",
        marker={"symbol": "circle", "size": 4, "color": QUIET},
        opacity=0.55,
        name="one job",
        hoverinfo="text",
        hovertext=[
            f"{plain(miss.job)}, {miss.at:%d %b %Y}<br>"
            f"{shown.text(miss.target_error_mm, signed=True)}"
            for miss in rows.misses
        ],
    )


def _months(months: tuple[MonthMean, ...], shown: ShownUnit) -> go.Scatter:
    return go.Scatter(
        x=[_middle(month) for month in months],
        y=[shown.of(month.mean_mm) for month in months],
        error_y={
            "type": "data",
            "symmetric": False,
            "array": [_arm(month.interval.high, month.mean_mm, shown) for month in months],
            "arrayminus": [_arm(month.mean_mm, month.interval.low, shown) for month in months],
            "color": ACCENT,
            "thickness": 3,
            "width": 0,
        },
        mode="markers",
        marker={"symbol": "circle", "size": 10, "color": ACCENT},
        name="month's mean",
        hoverinfo="text",
        hovertext=[
            f"{month.month:%B %Y}, {month.jobs} jobs<br>"
            f"mean {shown.text(month.mean_mm, signed=True)}<br>"
            f"{month.share_inside:.0%} inside tolerance"
            for month in months
        ],
    )


def _arm(upper: float | None, lower: float | None, shown: ShownUnit) -> float:
    return 0.0 if upper is None or lower is None else shown.of(upper - lower)


def _share(month: MonthMean) -> dict[str, Any]:
    return {
        "text": f"{month.share_inside * 100:.0f}",
        "x": _middle(month),
        "xref": "x",
        "y": 1.0 - SHARE_ROOM * 0.49,
        "yref": "paper",
        "yanchor": "middle",
        "showarrow": False,
        "font": {"size": 15, "color": INK, "weight": 700},
    }
