"""As-found gap and wanted gap to metal off the base, and achieved gap against what was expected.

Taking depth d off the base narrows every gap by d; a base gasket that ends up thinner by t narrows
every gap by t. Gasket thicknesses are compressed ones. Passes and dial readings: `cutting.py`.
"""

from __future__ import annotations

import numpy.typing as npt

from qc.errors import TargetUnderFloor
from qc.numerics.checks import LARGEST_GAP_MM, require_finite, require_length_mm, require_lengths_mm
from qc.numerics.results import CutPlan, FloatArray, GapErrors, LimitedBy, Said

# Limits this close are the same limit; records keep 1e-6 mm.
SAME_MM = 1e-9


def plan_cut(
    *,
    height_mm: float,
    tightest_mm: float,
    gasket_found_mm: float,
    gasket_next_mm: float,
    target_mm: float,
    floor_mm: float,
    room_mm: float | None = None,
) -> CutPlan:
    """Depth of metal to take off the base so that the height comes to the target, mm.

    height_mm, tightest_mm: as found. gasket_found_mm, gasket_next_mm: base gasket, compressed, when
        measured and when reassembled; 0 without one.
    floor_mm: least gap allowed anywhere. room_mm: flange metal that may still go
        (`room_on_flange`); negative when the flange is under its minimum already; None: not known.
    The least of what target, floor and material allow, and never negative; limited_by names which,
    "none" when the gap is at or under target already. Source: geometry; gap follows the gasket one
    for one (opeforum.com thread 475).
    Raises TargetUnderFloor, NotFinite, NegativeLength, LengthTooLarge.
    """
    height = require_length_mm(height_mm, what="The height", at_most_mm=LARGEST_GAP_MM)
    tightest = require_length_mm(tightest_mm, what="The tightest gap", at_most_mm=LARGEST_GAP_MM)
    target = require_length_mm(target_mm, what="The target", at_most_mm=LARGEST_GAP_MM)
    floor = require_length_mm(floor_mm, what="The floor", at_most_mm=LARGEST_GAP_MM)
    if target < floor:
        raise TargetUnderFloor(target_mm=target, floor_mm=floor)

    narrowed = gasket_change_mm(gasket_found_mm=gasket_found_mm, gasket_next_mm=gasket_next_mm)
    height, tightest = height - narrowed, tightest - narrowed
    room = None if room_mm is None else float(require_finite(room_mm, what="Room on the flange"))
    depth, limited_by = _least(height - target, tightest - floor, room)
    said = _why(limited_by, depth, height - target, tightest - floor)
    return CutPlan(
        depth_mm=depth,
        limited_by=limited_by,
        height_after_mm=height - depth,
        tightest_after_mm=tightest - depth,
        target_depth_mm=height - target,
        floor_depth_mm=tightest - floor,
        material_depth_mm=room,
        reason="" if said is None else str(said),
        said=said,
    )


def _least(target: float, floor: float, room: float | None) -> tuple[float, LimitedBy]:
    if target <= SAME_MM:
        return 0.0, "none"
    limits: list[tuple[float, LimitedBy]] = [(target, "target"), (floor, "floor")]
    if room is not None:
        limits.append((room, "material"))
    least = min(limit for limit, _ in limits)
    # On a tie the target is the reason, then the floor.
    limited_by = next(name for limit, name in limits if limit <= least + SAME_MM)
    return max(0.0, least), limited_by


def _why(limited_by: LimitedBy, depth: float, wanted: float, to_floor: float) -> Said | None:
    if limited_by == "target":
        return None
    if limited_by == "none":
        if to_floor < 0:
            return Said("at_target_low", {"under_mm": -to_floor})
        return Said("at_target", {})
    code = "floor_stops" if limited_by == "floor" else "flange_stops"
    return Said(code, {"depth_mm": depth, "short_mm": wanted - depth})


def gasket_change_mm(*, gasket_found_mm: float, gasket_next_mm: float) -> float:
    """How much thinner the compressed base gasket will be, mm; positive narrows every gap."""
    found = require_length_mm(
        gasket_found_mm, what="The gasket as found", at_most_mm=LARGEST_GAP_MM
    )
    after = require_length_mm(gasket_next_mm, what="The gasket to come", at_most_mm=LARGEST_GAP_MM)
    return found - after


def room_on_flange(
    flange_now_mm: float, *, flange_min_mm: float, cut_since_mm: float = 0.0
) -> float:
    """Metal that may still come off, mm; negative when the flange is under its minimum already.

    cut_since_mm: cuts taken after flange_now_mm was measured.
    """
    now = require_length_mm(flange_now_mm, what="The flange height")
    least = require_length_mm(flange_min_mm, what="The least flange height")
    return now - require_length_mm(cut_since_mm, what="The metal cut since") - least


def predicted_gap(
    value_mm: npt.ArrayLike, *, gasket_found_mm: float, gasket_next_mm: float, depth_mm: float
) -> FloatArray:
    """Each as-found gap (any shape, mm) less the gasket change and the depth cut.

    A result below 0 means that the piston would meet the head.
    """
    found = require_lengths_mm(value_mm, what="A gap", at_most_mm=LARGEST_GAP_MM)
    narrowed = gasket_change_mm(gasket_found_mm=gasket_found_mm, gasket_next_mm=gasket_next_mm)
    return found - narrowed - require_length_mm(depth_mm, what="The depth cut")


def gap_errors(achieved_mm: float, *, predicted_mm: float | None, target_mm: float) -> GapErrors:
    """Achieved height less predicted (None: no prediction) and less target, mm."""
    achieved = float(require_finite(achieved_mm, what="The achieved height"))
    target = float(require_finite(target_mm, what="The target"))
    if predicted_mm is None:
        return GapErrors(height_error_mm=None, target_error_mm=achieved - target)
    predicted = float(require_finite(predicted_mm, what="The predicted height"))
    return GapErrors(height_error_mm=achieved - predicted, target_error_mm=achieved - target)
