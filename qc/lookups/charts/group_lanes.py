"""Ways of looking at the positions inside each job, and between jobs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from qc.lookups.charts.chart_lane import (
    ChartJobRow,
    ChartLane,
    Lanes,
)
from qc.numerics.charts import between_within, group_chart, group_limits
from qc.numerics.charts.first_jobs import BASELINE_JOBS
from qc.numerics.charts.groups import GroupChart, Spread


def group_lanes(rows: Sequence[ChartJobRow], name: str, spread: Spread) -> Lanes:
    """Mean and spread of the positions of one job, all jobs with two positions or more."""
    rows = [one for one in rows if len(one.positions_mm) > 1]
    if len(rows) < 2:
        return Lanes(rows, (), "No two jobs were measured at two positions or more.")
    groups = [one.positions_mm for one in rows]
    chart = group_chart(groups, limits=group_limits(groups[:BASELINE_JOBS], spread=spread))
    note = (
        "Limits of the means come from the scatter inside jobs alone, which a tilt widens: compare "
        "between and within jobs."
    )
    means = _group_means(chart, f"{name}, mean")
    return Lanes(rows, (means, _group_spread(chart, spread)), note)


def between_lanes(rows: Sequence[ChartJobRow], name: str) -> Lanes:
    """Jobs with the most usual number of positions: means, their moving range, spread within."""
    sizes = Counter(len(one.positions_mm) for one in rows if len(one.positions_mm) > 1)
    usual = max(sizes, key=lambda size: (sizes[size], size), default=0)
    shop, rows = rows, [one for one in rows if len(one.positions_mm) == usual]
    if len(rows) < 3:
        return Lanes(rows, (), "Too few jobs were measured at the same number of positions.")
    begins = [any(one.told.begins for one in since) for since in _since_kept(shop, rows)]
    found = between_within([one.positions_mm for one in rows], stretch_start=begins)
    limits = found.means.limits
    n = len(rows)
    moved = [None if one != one else one for one in found.means.moving_range.tolist()]
    means = ChartLane(
        f"{name}, mean of {usual}",
        found.means.value.tolist(),
        [(limits.lower, limits.upper)] * n,
        ["mean outside the limits" if one else "" for one in found.means.beyond.tolist()],
        centre=[limits.centre] * n,
    )
    between = ChartLane(
        "From the job before",
        moved,
        [(None, limits.moving_range_upper)] * n,
        [
            "further from the job before than the limit" if one else ""
            for one in found.means.moving_range_beyond.tolist()
        ],
        is_signed=False,
    )
    within = _group_spread(found.within, "range")
    note = (
        "The positions of one job scatter more than the jobs' means explain."
        if found.between_is_clipped
        else ""
    )
    return Lanes(rows, (means, between, within), note)


def _group_means(chart: GroupChart, name: str) -> ChartLane:
    return ChartLane(
        name,
        chart.mean.tolist(),
        list(zip(chart.lower.tolist(), chart.upper.tolist(), strict=True)),
        ["mean outside the limits" if one else "" for one in chart.beyond.tolist()],
        centre=[chart.limits.centre] * chart.mean.size,
    )


def _group_spread(chart: GroupChart, spread: Spread) -> ChartLane:
    what = "Range" if spread == "range" else "Standard deviation"
    return ChartLane(
        f"{what} among positions",
        chart.spread.tolist(),
        list(zip(chart.spread_lower.tolist(), chart.spread_upper.tolist(), strict=True)),
        ["spread outside the limits" if one else "" for one in chart.spread_beyond.tolist()],
        is_signed=False,
    )


def _since_kept(
    rows: Sequence[ChartJobRow], kept: Sequence[ChartJobRow]
) -> list[list[ChartJobRow]]:
    """For each row kept, itself and the rows left out since the one kept before it."""
    chosen = {id(one) for one in kept}
    groups: list[list[ChartJobRow]] = [[]]
    for one in rows:
        groups[-1].append(one)
        if id(one) in chosen:
            groups.append([])
    return groups[:-1]
