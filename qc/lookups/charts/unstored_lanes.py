"""Ways of looking that need no stored limits: share of the tolerance, and the first jobs."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

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
from qc.models import Rule
from qc.numerics.charts import individuals_chart, scaled_deviations
from qc.numerics.charts.few_jobs import Widths
from qc.numerics.charts.first_jobs import BASELINE_JOBS, estimated_limits, first_limits
from qc.numerics.results import FloatArray
from qc.numerics.run_length import cusum_limit
from qc.numerics.self_starting import self_starting_cusum

COARSE = "The gauge is too coarse to judge by: these jobs do not differ by its steps."
FIRST_JOBS = 60


def share_lanes(rows: Sequence[ChartJobRow]) -> Lanes:
    """Of the tolerance on the side where the job came out: +1 and -1 are the tolerance limits."""
    off = [one.point.target_error_mm for one in rows]
    allowed = [
        one.point.tol_plus_mm if miss >= 0 else one.point.tol_minus_mm
        for one, miss in zip(rows, off, strict=True)
    ]
    if not rows:
        return Lanes(rows, (), THIN)
    share = scaled_deviations(off, target=[0.0] * len(rows), tolerance=allowed)
    starts = begins(rows)
    lanes = _estimated(share, starts, name="Share of the tolerance")
    return Lanes(rows, [_with_band(lanes[0], (-1.0, 1.0)), *lanes[1:]], _thin_note(share, starts))


def first_lanes(rows: Sequence[ChartJobRow], arl: float) -> Lanes:
    """The first jobs shown, each against those before it alone: nothing needs to be known. A
    service begins it anew, as it does the stretches of the stored chart."""
    rows = rows[:FIRST_JOBS]
    if not rows:
        return Lanes(rows, (), THIN)
    h = cusum_limit(arl, k=0.5)
    starts = begins(rows)
    found = self_starting_cusum([one.value_mm for one in rows], k=0.5, h=h, stretch_start=starts)
    q = [None if one != one else one for one in found.q.tolist()]
    spans: list[Span] = [NO_SPAN if one is None else (-3.0, 3.0) for one in q]
    n = len(rows)
    scores = ChartLane(
        "From the jobs before, in sigma",
        q,
        spans,
        [outside(v, span, "far from all jobs before") for v, span in zip(q, spans, strict=True)],
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
    since = " since the last service" if any(starts[1:]) else ""
    note = f"Each job is judged by the jobs before it{since} alone."
    return Lanes(rows, (scores, *sums), note)


def _estimated(values: FloatArray, starts: Sequence[bool], *, name: str) -> list[ChartLane]:
    """Single values and their moving ranges by the limits of the first jobs shown."""
    n = values.size
    found = first_limits(tuple(values.tolist()), tuple(starts), known=Widths(3.0, 3.0))
    if found is None or found.single.is_zero_width:
        return [ChartLane(name, values.tolist(), [NO_SPAN] * n, [""] * n, is_length=False)]
    limits = found.single
    chart = individuals_chart(values, limits=limits, stretch_start=np.array(starts))
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


def _with_band(lane: ChartLane, band: Span) -> ChartLane:
    return ChartLane(**{**vars(lane), "band": band})


def _thin_note(values: FloatArray, starts: Sequence[bool]) -> str:
    limits = estimated_limits(tuple(values[:BASELINE_JOBS].tolist()), tuple(starts[:BASELINE_JOBS]))
    if limits is None:
        return THIN
    return COARSE if limits.is_zero_width else "Limits come from the first jobs shown."
