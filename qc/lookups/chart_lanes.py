"""The lanes of a chart page: one way of looking at the same jobs each."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from qc.lookups.channels import JobPoint
from qc.lookups.kept_errors import ErrorPoint
from qc.lookups.rule_sets import Judged
from qc.models import Rule
from qc.numerics.charts import (
    between_within,
    cusum_chart,
    frozen_limits,
    group_chart,
    group_limits,
    individuals_chart,
    scaled_deviations,
)
from qc.numerics.charts.few_jobs import Widths
from qc.numerics.charts.first_jobs import BASELINE_JOBS, estimated_limits, first_limits
from qc.numerics.charts.groups import GroupChart, Spread
from qc.numerics.results import FloatArray
from qc.numerics.run_length import cusum_limit
from qc.numerics.run_length.design import HEAD_START
from qc.numerics.self_starting import self_starting_cusum

Span = tuple[float | None, float | None]
Values = Sequence[float | None]
FIRST_JOBS = 60


class View(StrEnum):
    SINGLES = "singles"
    AVERAGE = "average"
    SUMS = "sums"
    SHARE = "share"
    RANGE = "range"
    DEVIATION = "deviation"
    BETWEEN = "between"
    FIRST = "first"


@dataclass(frozen=True)
class ChartJobRow:
    """A job on the page: its point, the gaps less target at its positions (mm), and what the stored
    chart made of it."""

    point: JobPoint
    value_mm: float
    positions_mm: tuple[float, ...]
    told: ErrorPoint


@dataclass(frozen=True)
class ChartLane:
    """One lane: an entry a job; None where a job has none. limits and centre: what each job was
    held against; said: the rule that fired, in words, or empty. is_line: joined to a line."""

    name: str
    values: Values
    limits: Sequence[Span]
    said: Sequence[str]
    centre: Values = ()
    is_length: bool = True
    is_signed: bool = True
    is_line: bool = False
    line_name: str = "average"
    band: Span | None = None


@dataclass(frozen=True)
class Lanes:
    """rows: the jobs the lanes' entries belong to. note: why there is nothing to judge by, or what
    to know of this way of looking."""

    rows: Sequence[ChartJobRow]
    lanes: Sequence[ChartLane]
    note: str = ""


NO_SPAN: Span = (None, None)
THIN = "Baseline still thin: nothing is judged yet."
COARSE = "The gauge is too coarse to judge by: these jobs do not differ by its steps."


def lanes_of(
    view: View, rows: Sequence[ChartJobRow], *, name: str, band: Span | None, arl: float
) -> Lanes:
    """The lanes of one way of looking. name: of the value charted; arl: the jobs between two false
    signals that the shop wishes for."""
    if view == View.AVERAGE:
        return _average(rows, name, band)
    if view == View.SUMS:
        return _sums(rows, arl)
    if view == View.SHARE:
        return _share(rows)
    if view in (View.RANGE, View.DEVIATION):
        return _groups(rows, name, "range" if view == View.RANGE else "sd")
    if view == View.BETWEEN:
        return _between(rows, name)
    if view == View.FIRST:
        return _first(rows, arl)
    return _singles(rows, name, band)


def _singles(rows: Sequence[ChartJobRow], name: str, band: Span | None) -> Lanes:
    limits, spans = [], []
    for one in rows:
        kept = one.told.kept
        if kept is None:
            limits.append(NO_SPAN)
            spans.append(NO_SPAN)
            continue
        held = frozen_limits(kept.centre, kept.sigma, kept.width)
        limits.append((held.lower, held.upper))
        spans.append((None, held.moving_range_upper))
    moved = _moving_ranges([one.value_mm for one in rows], [one.told.begins for one in rows])
    single = ChartLane(
        name,
        [one.value_mm for one in rows],
        limits,
        [_said(one.told, without=(Rule.EWMA, Rule.SUMS)) for one in rows],
        centre=_centres(rows),
        band=band,
    )
    between = ChartLane(
        "From the job before",
        moved,
        spans,
        [
            _outside(v, span, "further from the job before than the limit")
            for v, span in zip(moved, spans, strict=True)
        ],
        is_signed=False,
    )
    return Lanes(rows, (single, between))


LOOK_ONLY = "In this shop other lines decide what signals; this one is to look at."


def _average(rows: Sequence[ChartJobRow], name: str, band: Span | None) -> Lanes:
    average = ChartLane(
        "Running average (EWMA)",
        [None if one.told.kept is None else one.told.kept.judged.ewma for one in rows],
        [_ewma_span(one.told) for one in rows],
        [
            Rule.EWMA.label if one.told.kept and one.told.kept.judged.ewma_signal else ""
            for one in rows
        ],
        centre=_centres(rows),
        is_line=True,
    )
    single = ChartLane(
        name,
        [one.value_mm for one in rows],
        [NO_SPAN] * len(rows),
        [""] * len(rows),
        band=band,
    )
    decides = not rows or Rule.EWMA in rows[-1].told.judged_by.lines
    return Lanes(rows, (average, single), "" if decides else LOOK_ONLY)


def _ewma_span(told: ErrorPoint) -> Span:
    kept = told.kept
    if kept is None:
        return NO_SPAN
    return kept.centre - kept.judged.half_width, kept.centre + kept.judged.half_width


def _sums(rows: Sequence[ChartJobRow], arl: float) -> Lanes:
    """By the newest job's limits throughout, from the start the policy gives each stretch."""
    kept = rows[-1].told.kept if rows else None
    if kept is None:
        return Lanes(rows, (), THIN)
    k, h, head = _sum_settings(rows[-1].told.judged_by, arl)
    chart = cusum_chart(
        [one.value_mm for one in rows],
        target=kept.centre,
        sigma=kept.sigma,
        k=k,
        h=h,
        head_start=head,
        stretch_start=_begins(rows),
    )
    lanes = [
        ChartLane(
            f"Cumulative sum toward {side}",
            sums.tolist(),
            [(None, chart.decision)] * len(rows),
            [Rule.SUMS.label if one > chart.decision else "" for one in sums.tolist()],
            is_signed=False,
            is_line=True,
            line_name="sum",
        )
        for side, sums in (("wide", chart.high), ("tight", chart.low))
    ]
    start = "half way to its limit" if head else "at zero"
    note = f"Each sum adds what a job exceeds {k:g} sigma by, and starts {start}."
    if Rule.SUMS not in rows[-1].told.judged_by.lines:
        note = f"{note} {LOOK_ONLY}"
    return Lanes(rows, lanes, note)


def _sum_settings(judged_by: Judged, arl: float) -> tuple[float, float, float]:
    if judged_by.by.sums is not None:
        sums = judged_by.by.sums
        return sums.k, sums.h, sums.head_start
    h = cusum_limit(arl, k=0.5, head_start_share=HEAD_START)
    return 0.5, h, HEAD_START * h


def _share(rows: Sequence[ChartJobRow]) -> Lanes:
    """Of the tolerance on the side where the job came out: +1 and -1 are the tolerance limits."""
    off = [one.point.target_error_mm for one in rows]
    allowed = [
        one.point.tol_plus_mm if miss >= 0 else one.point.tol_minus_mm
        for one, miss in zip(rows, off, strict=True)
    ]
    if not rows:
        return Lanes(rows, (), THIN)
    share = scaled_deviations(off, target=[0.0] * len(rows), tolerance=allowed)
    begins = _begins(rows)
    lanes = _estimated(share, begins, name="Share of the tolerance")
    return Lanes(rows, [_with_band(lanes[0], (-1.0, 1.0)), *lanes[1:]], _thin_note(share, begins))


def _estimated(values: FloatArray, begins: Sequence[bool], *, name: str) -> list[ChartLane]:
    """Single values and their moving ranges by the limits of the first jobs shown."""
    n = values.size
    found = first_limits(tuple(values.tolist()), tuple(begins), known=Widths(3.0, 3.0))
    if found is None or found.single.is_zero_width:
        return [ChartLane(name, values.tolist(), [NO_SPAN] * n, [""] * n, is_length=False)]
    limits = found.single
    chart = individuals_chart(values, limits=limits, stretch_start=np.array(begins))
    moved = [None if one != one else one for one in chart.moving_range.tolist()]
    return [
        ChartLane(
            name,
            values.tolist(),
            [(limits.lower, limits.upper)] * n,
            [Rule.INDIVIDUALS.label if one else "" for one in chart.beyond.tolist()],
            centre=[limits.centre] * n,
            is_length=False,
        ),
        ChartLane(
            "From the job before",
            moved,
            [(None, limits.moving_range_upper)] * n,
            [
                "further from the job before than the limit" if one else ""
                for one in chart.moving_range_beyond.tolist()
            ],
            is_length=False,
            is_signed=False,
        ),
    ]


def _groups(rows: Sequence[ChartJobRow], name: str, spread: Spread) -> Lanes:
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


def _between(rows: Sequence[ChartJobRow], name: str) -> Lanes:
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


def _first(rows: Sequence[ChartJobRow], arl: float) -> Lanes:
    """The first jobs shown, each against those before it alone: nothing needs to be known. A
    service begins it anew, as it does the stretches of the stored chart."""
    rows = rows[:FIRST_JOBS]
    if not rows:
        return Lanes(rows, (), THIN)
    h = cusum_limit(arl, k=0.5)
    begins = _begins(rows)
    found = self_starting_cusum([one.value_mm for one in rows], k=0.5, h=h, stretch_start=begins)
    q = [None if one != one else one for one in found.q.tolist()]
    spans: list[Span] = [NO_SPAN if one is None else (-3.0, 3.0) for one in q]
    n = len(rows)
    scores = ChartLane(
        "From the jobs before, in sigma",
        q,
        spans,
        [_outside(v, span, "far from all jobs before") for v, span in zip(q, spans, strict=True)],
        centre=[None if one is None else 0.0 for one in q],
        is_length=False,
    )
    sums = [
        ChartLane(
            f"Running sum toward {side}",
            values.tolist(),
            [(None, h)] * n,
            [Rule.SUMS.label if one > h else "" for one in values.tolist()],
            is_length=False,
            is_signed=False,
            is_line=True,
            line_name="sum",
        )
        for side, values in (("wide", found.chart.high), ("tight", found.chart.low))
    ]
    since = " since the last service" if any(begins[1:]) else ""
    note = f"Each job is judged by the jobs before it{since} alone."
    return Lanes(rows, (scores, *sums), note)


def _moving_ranges(values: Sequence[float], begins: Sequence[bool]) -> list[float | None]:
    return [
        None if i == 0 or begins[i] else abs(values[i] - values[i - 1]) for i in range(len(values))
    ]


def _centres(rows: Sequence[ChartJobRow]) -> list[float | None]:
    return [None if one.told.kept is None else one.told.kept.centre for one in rows]


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


def _begins(rows: Sequence[ChartJobRow]) -> list[bool]:
    return [one.told.begins for one in rows]


def _said(told: ErrorPoint, *, without: Sequence[Rule]) -> str:
    return "; ".join(str(one.rule.label) for one in told.fired if one.rule not in without)


def _outside(value: float | None, span: Span, words: str) -> str:
    if value is None:
        return ""
    low, high = span
    is_out = (low is not None and value < low) or (high is not None and value > high)
    return words if is_out else ""


def _with_band(lane: ChartLane, band: Span) -> ChartLane:
    return ChartLane(**{**vars(lane), "band": band})


def _thin_note(values: FloatArray, begins: Sequence[bool]) -> str:
    limits = estimated_limits(tuple(values[:BASELINE_JOBS].tolist()), tuple(begins[:BASELINE_JOBS]))
    if limits is None:
        return THIN
    return COARSE if limits.is_zero_width else "Limits come from the first jobs shown."
