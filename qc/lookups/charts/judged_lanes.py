"""Ways of looking at jobs as the stored chart judged them: single jobs, their average, sums."""

from __future__ import annotations

from collections.abc import Sequence

from qc.lookups.charts.chart_lane import (
    NO_SPAN,
    THIN,
    ChartJobRow,
    ChartLane,
    Lanes,
    Span,
    begins,
    outside,
)
from qc.lookups.charts.kept_errors import ErrorPoint
from qc.lookups.charts.rule_sets import Judged
from qc.models import Rule
from qc.numerics.charts import cusum_chart, frozen_limits
from qc.numerics.run_length import cusum_limit
from qc.numerics.run_length.design import HEAD_START

LOOK_ONLY = "In this shop other lines decide what signals; this one is to look at."


def singles_lanes(rows: Sequence[ChartJobRow], name: str, band: Span | None) -> Lanes:
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
    moved = _moving_ranges([one.value_mm for one in rows], begins(rows))
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
            outside(v, span, "further from the job before than the limit")
            for v, span in zip(moved, spans, strict=True)
        ],
        is_signed=False,
    )
    return Lanes(rows, (single, between))


def average_lanes(rows: Sequence[ChartJobRow], name: str, band: Span | None) -> Lanes:
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


def sums_lanes(rows: Sequence[ChartJobRow], arl: float) -> Lanes:
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
        stretch_start=begins(rows),
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


def _ewma_span(told: ErrorPoint) -> Span:
    kept = told.kept
    if kept is None:
        return NO_SPAN
    return kept.centre - kept.judged.half_width, kept.centre + kept.judged.half_width


def _sum_settings(judged_by: Judged, arl: float) -> tuple[float, float, float]:
    if judged_by.by.sums is not None:
        sums = judged_by.by.sums
        return sums.k, sums.h, sums.head_start
    h = cusum_limit(arl, k=0.5, head_start_share=HEAD_START)
    return 0.5, h, HEAD_START * h


def _moving_ranges(values: Sequence[float], starts: Sequence[bool]) -> list[float | None]:
    return [
        None if i == 0 or starts[i] else abs(values[i] - values[i - 1]) for i in range(len(values))
    ]


def _centres(rows: Sequence[ChartJobRow]) -> list[float | None]:
    return [None if one.told.kept is None else one.told.kept.centre for one in rows]


def _said(told: ErrorPoint, *, without: Sequence[Rule]) -> str:
    return "; ".join(str(one.rule.label) for one in told.fired if one.rule not in without)
