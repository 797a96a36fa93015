"""The plan of one round from what was found: how deep, in which passes, and what it will leave.

The one place where the record of a job and the stateless sum get it from.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from qc.numerics.cutting import pass_plan
from qc.numerics.results import GapFit, PositionValues
from qc.numerics.target import plan_cut, predicted_gap


def round_plan(
    values: PositionValues,
    fit: GapFit,
    *,
    gasket_found_mm: float,
    gasket_next_mm: float,
    target_mm: float,
    floor_mm: float,
    room_mm: float | None,
    rough_max_mm: float,
    finish_mm: float,
    smallest_chip_mm: float,
) -> dict[str, Any]:
    """Plain numbers in mm and sentences, ready to be stored or told.

    values, fit: as found, of the same readings. The rest as `plan_cut` and `pass_plan` take it;
    raises what they raise. Beside CutPlan's fields: what it rests on, passes_mm in order, and
    predicted, the gap at each position found once the cut is taken.
    """
    cut = plan_cut(
        height_mm=fit.height_mm,
        tightest_mm=fit.tightest_mm,
        gasket_found_mm=gasket_found_mm,
        gasket_next_mm=gasket_next_mm,
        target_mm=target_mm,
        floor_mm=floor_mm,
        room_mm=room_mm,
    )
    passes = pass_plan(
        cut.depth_mm,
        rough_max_mm=rough_max_mm,
        finish_mm=finish_mm,
        smallest_chip_mm=smallest_chip_mm,
    )
    predicted = predicted_gap(
        values.value_mm,
        gasket_found_mm=gasket_found_mm,
        gasket_next_mm=gasket_next_mm,
        depth_mm=cut.depth_mm,
    )
    return {
        **asdict(cut),
        "as_found_height_mm": fit.height_mm,
        "as_found_tightest_mm": fit.tightest_mm,
        "gasket_found_mm": gasket_found_mm,
        "gasket_next_mm": gasket_next_mm,
        "room_mm": room_mm,
        "smallest_chip_mm": smallest_chip_mm,
        "passes_mm": list(passes.passes_mm),
        "passes_reason": passes.reason,
        "passes_said": None if passes.said is None else asdict(passes.said),
        "predicted": [
            {"position_deg": float(at), "value_mm": float(gap)}
            for at, gap in zip(values.position_deg, predicted, strict=True)
        ],
    }
