"""A round of a job as the rows that the drawing of the gap round the bore is made from."""

from __future__ import annotations

from dashboards.figures.rows import Band, GapRoundBore, GapSet, GapWave
from qc.lookups.record.gaps import GapSummary
from qc.lookups.record.jobs import RoundRecord, SetRecord
from qc.models import Job


def gap_rows(job: Job, one: RoundRecord) -> GapRoundBore:
    target = float(job.target_mm)
    return GapRoundBore(
        as_found=_measured(one.as_found),
        predicted=_predicted(one),
        achieved=_measured(one.achieved),
        target_mm=target,
        tolerance=Band(target - float(job.tol_minus_mm), target + float(job.tol_plus_mm)),
        floor_mm=float(job.floor_mm),
    )


def _measured(taken: SetRecord | None) -> GapSet | None:
    if taken is None or taken.summary is None:
        return None
    fit, values = taken.summary.fit, taken.summary.values
    return GapSet(
        readings=tuple(zip(values.position_deg.tolist(), values.value_mm.tolist(), strict=True)),
        height_mm=fit.height_mm,
        tightest_mm=fit.tightest_mm,
        wave=_wave(taken.summary, fit.height_mm),
        side_to_side_mm=fit.side_to_side_mm,
        wide_deg=fit.wide_toward_deg,
    )


def _predicted(one: RoundRecord) -> GapSet | None:
    """What the cut should have left, or before it is measured what the plan says it will leave;
    nothing where the plan rests on other readings.

    A cut moves every position alike, so the shape is the as-found one.
    """
    summary = None if one.as_found is None else one.as_found.summary
    if summary is None:
        return None
    points, height = _points(one)
    if height is None or not points:
        return None
    drop = summary.fit.height_mm - height
    return GapSet(
        readings=tuple((point["position_deg"], point["value_mm"]) for point in points),
        height_mm=height,
        tightest_mm=summary.fit.tightest_mm - drop,
        wave=_wave(summary, height),
        side_to_side_mm=summary.fit.side_to_side_mm,
        wide_deg=summary.fit.wide_toward_deg,
    )


def _points(one: RoundRecord) -> tuple[list[dict[str, float]], float | None]:
    if one.result is not None:
        return one.result.detail["predicted_positions"] or [], one.result.predicted_mm
    if one.round.plan and not one.plan_is_stale:
        return one.round.plan["predicted"], one.round.plan["height_after_mm"]
    return [], None


def _wave(summary: GapSummary, height_mm: float) -> GapWave | None:
    fit = summary.fit
    if fit.a_mm is None or fit.b_mm is None:
        return None
    return GapWave(height_mm, fit.a_mm, fit.b_mm)
