"""What a round came to: prediction, errors, uncertainty and verdict, one row a revision."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from decimal import Decimal

from qc.lookups.record.depth import Depth, depth_cut
from qc.lookups.record.gaps import GapSummary, summary_of
from qc.lookups.record.material import room_mm
from qc.lookups.record.usual_spread import usual_spread
from qc.models import Gauge, JobResult, Round, ShopPolicy
from qc.numerics.cutting import smallest_chip_mm
from qc.numerics.results import GapBudget, NextCut, Verdict
from qc.numerics.solder import floored_spread
from qc.numerics.standing_apart import Apart, stands_apart
from qc.numerics.target import plan_cut, predicted_gap
from qc.numerics.uncertainty import gap_budget
from qc.numerics.verdict import judge
from qc.operations import journal
from qc.operations.answers import FORMULA, renew_clocking_tests
from qc.operations.policy import ensure_policy
from qc.outbox import ask
from qc.units import MM_PLACES


@dataclass(frozen=True)
class Prediction:
    """Height the cut should leave with this gasket; None where as-found or depth is missing."""

    height_mm: float | None
    depth: Depth
    found: GapSummary | None


def predicted_height_mm(round_: Round, *, gasket_mm: float) -> Prediction:
    """As-found height less the gasket's change less the depth cut.

    None when there is no as-found set or no depth, or when piston, rod, head, head gasket or
    crankcase changed since as-found.
    """
    depth = depth_cut(round_)
    if round_.as_found_set is None or round_.parts_changed:
        return Prediction(None, depth, None)
    found = summary_of(round_.as_found_set)
    if depth.mm is None:
        return Prediction(None, depth, found)
    height = found.fit.height_mm - (found.gasket_mm - gasket_mm) - depth.mm
    return Prediction(height, depth, found)


def judge_round(round_: Round, *, at: datetime) -> JobResult:
    """Compute the round's result anew as its next revision, and ask for the charts to follow."""
    assert round_.achieved_set is not None
    policy = ensure_policy(at=at)
    achieved = summary_of(round_.achieved_set)
    prediction = predicted_height_mm(round_, gasket_mm=achieved.gasket_mm)
    gauge = round_.achieved_set.gauge
    assert gauge is not None  # gap_set_has_gauge_radius_gasket
    budget = budget_of(achieved, gauge=gauge, policy=policy, at=round_.achieved_set.at)
    next_cut = _next_cut(round_, achieved, depth=prediction.depth, policy=policy)
    verdict = _judge(round_, achieved, budget=budget, next_cut=next_cut, policy=policy)
    old = round_.results.filter(is_current=True).first()
    round_.results.filter(is_current=True).update(is_current=False)
    result = _row(round_, achieved, prediction, budget=budget, verdict=verdict, policy=policy)
    result.revision = 1 if old is None else old.revision + 1
    result.computed_at = at
    result.detail["next_cut"] = asdict(next_cut)
    result.save()
    journal.note(
        None,
        "result.computed",
        subject=result,
        job=round_.job,
        at=at,
        before={} if old is None else _summary(old),
        after=_summary(result),
    )
    renew_clocking_tests(round_.job.cylinder, at=at)
    ask("qc.learn", at=at, round_id=round_.pk)
    return result


def _summary(result: JobResult) -> dict[str, object]:
    return {
        "revision": result.revision,
        "height_mm": result.height_mm,
        "tightest_mm": result.tightest_mm,
        "target_error_mm": result.target_error_mm,
        "height_error_mm": result.height_error_mm,
        "verdict": result.verdict,
    }


def budget_of(
    summary: GapSummary, *, gauge: Gauge, policy: ShopPolicy, at: datetime | None = None
) -> GapBudget:
    """The uncertainty budget of a gap set measured at `at`; None: with a gauge on no shelf.

    The repeat standard deviation pools the set's own with the shop's usual one, so that a set with
    no repeats still has an honest uncertainty. A gauge study that was in force then stands in for
    the policy's figure where its trials were fresh pieces, and adds what hands differ by.
    """
    usual = usual_spread(gauge, policy=policy, at=at)
    own_df = summary.values.spread_df
    own = (summary.values.spread_mm or 0.0) ** 2
    df = own_df + usual.repeat_df
    pooled = ((own_df * own + usual.repeat_df * usual.repeat_sd_mm**2) / df) ** 0.5
    return gap_budget(
        positions=summary.values.position_deg.size,
        position_deg=summary.values.position_deg,
        pieces_per_position=float(summary.values.pieces.min()),
        gauge_step_mm=float(gauge.step_mm),
        gauge_calibration_u_mm=float(gauge.calibration_u_mm),
        repeat_sd_mm=pooled,
        repeat_df=df,
        repeat_source=usual.source,
        hands=usual.hands,
        gasket_u_mm=float(policy.gasket_u_mm),
        torque_u_mm=float(policy.torque_u_mm),
        float_u_mm=float(policy.float_u_mm),
    )


def apart_in(
    summary: GapSummary, *, gauge: Gauge, policy: ShopPolicy, at: datetime | None = None
) -> tuple[Apart, ...]:
    """What stands apart in a gap set, by the shop's usual repeats or the gauge's step alone.

    at: as budget_of.
    """
    usual = usual_spread(gauge, policy=policy, at=at)
    return stands_apart(
        summary.values.piece_mm,
        position_deg=summary.values.position_deg,
        repeat_sd_mm=floored_spread(usual.repeat_sd_mm, float(gauge.step_mm)),
        repeat_df=usual.repeat_df,
    )


def chip_mm(round_: Round, *, policy: ShopPolicy) -> float:
    """The smallest chip this round's edge will form, or the shop's default before one is chosen."""
    if round_.edge is None:
        return float(policy.smallest_chip_mm)
    return smallest_chip_mm(float(round_.edge.edge_radius_um), ratio=float(policy.chip_ratio))


def _next_cut(round_: Round, achieved: GapSummary, *, depth: Depth, policy: ShopPolicy) -> NextCut:
    room = room_mm(round_)
    plan = plan_cut(
        height_mm=achieved.fit.height_mm,
        tightest_mm=achieved.fit.tightest_mm,
        gasket_found_mm=achieved.gasket_mm,
        gasket_next_mm=achieved.gasket_mm,
        target_mm=float(round_.job.target_mm),
        floor_mm=float(round_.job.floor_mm),
        room_mm=None if room is None else float(room) - (depth.mm or 0.0),
    )
    return NextCut(
        depth_mm=plan.depth_mm,
        smallest_chip_mm=chip_mm(round_, policy=policy),
        limited_by=plan.limited_by,
        room_mm=plan.material_depth_mm,
    )


def _judge(
    round_: Round,
    achieved: GapSummary,
    *,
    budget: GapBudget,
    next_cut: NextCut,
    policy: ShopPolicy,
) -> Verdict:
    job = round_.job
    return judge(
        fit=achieved.fit,
        budget=budget,
        target_mm=float(job.target_mm),
        tol_minus_mm=float(job.tol_minus_mm),
        tol_plus_mm=float(job.tol_plus_mm),
        floor_mm=float(job.floor_mm),
        evenness_limit_mm=float(job.evenness_limit_mm),
        next_cut=next_cut,
        guard_factor=float(policy.guard_factor),
    )


def _row(
    round_: Round,
    achieved: GapSummary,
    prediction: Prediction,
    *,
    budget: GapBudget,
    verdict: Verdict,
    policy: ShopPolicy,
) -> JobResult:
    fit, found, depth = achieved.fit, prediction.found, prediction.depth
    set_ = round_.achieved_set
    assert set_ is not None
    gauge = set_.gauge
    assert gauge is not None  # gap_set_has_gauge_radius_gasket
    height_error = None
    if prediction.height_mm is not None and not depth.is_planned:
        height_error = fit.height_mm - prediction.height_mm
    return JobResult(
        round=round_,
        measured_at=set_.at,
        formula=FORMULA,
        policy=policy,
        height_mm=fit.height_mm,
        tightest_mm=fit.tightest_mm,
        tilt_cos_mm=fit.a_mm,
        tilt_sin_mm=fit.b_mm,
        tilt_component_mm=fit.component_mm,
        tilt_component_axis_deg=fit.component_axis_deg,
        as_found_tilt_cos_mm=None if found is None else found.fit.a_mm,
        as_found_tilt_sin_mm=None if found is None else found.fit.b_mm,
        spread_mm=achieved.values.spread_mm,
        spread_df=achieved.values.spread_df,
        predicted_mm=prediction.height_mm,
        depth_cut_mm=None if depth.mm is None else Decimal(depth.mm).quantize(MM_PLACES),
        depth_is_planned=depth.is_planned,
        target_error_mm=fit.height_mm - float(round_.job.target_mm),
        height_error_mm=height_error,
        measuring_radius_mm=set_.measuring_radius_mm,
        is_reading_only=fit.kind == "reading",
        u_height_mm=budget.height.u_mm,
        u_side_to_side_mm=None if budget.side_to_side is None else budget.side_to_side.u_mm,
        u_tightest_mm=budget.tightest.u_mm,
        verdict=verdict.kind,
        detail=_detail(
            achieved,
            prediction,
            budget=budget,
            verdict=verdict,
            apart=apart_in(achieved, gauge=gauge, policy=policy, at=set_.at),
        ),
    )


def _detail(
    achieved: GapSummary,
    prediction: Prediction,
    *,
    budget: GapBudget,
    verdict: Verdict,
    apart: Sequence[Apart],
) -> dict[str, object]:
    """Everything a page shows of this revision, so that it can be shown again years later."""
    fit, found = achieved.fit, prediction.found
    detail: dict[str, object] = {
        "fit_kind": fit.kind,
        "positions": _points(achieved),
        "as_found": None if found is None else _points(found),
        "as_found_height_mm": None if found is None else found.fit.height_mm,
        "predicted_positions": None,
        "misfit_rms_mm": fit.misfit_rms_mm,
        "saddle_mm": fit.saddle_mm,
        "stands_apart": [asdict(one) for one in apart],
        "gauge_too_coarse": achieved.values.gauge_too_coarse,
        "budget": [asdict(line) for line in budget.lines],
        "expanded": {
            "height": asdict(budget.height),
            "side_to_side": None if budget.side_to_side is None else asdict(budget.side_to_side),
            "tightest": asdict(budget.tightest),
        },
        "verdict": asdict(verdict),
    }
    if found is not None and prediction.depth.mm is not None:
        predicted = predicted_gap(
            found.values.value_mm,
            gasket_found_mm=found.gasket_mm,
            gasket_next_mm=achieved.gasket_mm,
            depth_mm=prediction.depth.mm,
        )
        detail["predicted_positions"] = [
            {"position_deg": float(at), "value_mm": float(gap)}
            for at, gap in zip(found.values.position_deg, predicted, strict=True)
        ]
    return detail


def _points(summary: GapSummary) -> list[dict[str, float]]:
    values = summary.values
    return [
        {"position_deg": float(at), "value_mm": float(gap), "pieces": int(pieces)}
        for at, gap, pieces in zip(values.position_deg, values.value_mm, values.pieces, strict=True)
    ]
