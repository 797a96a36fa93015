"""Two indicated circles of a fixture: how its axis leans, and what that does to base and gap.

Angles are clock positions on the fixture, clockwise seen from the head. A pure offset leaves the
base square to the axis of turning; only a lean of the fixture's axis reaches the squish.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from qc.numerics.carry_through import Share
from qc.numerics.checks import require_length_mm
from qc.numerics.runout import RESOLVED, Eccentricity
from qc.numerics.tilt import direction_deg


@dataclass(frozen=True)
class AxisTilt:
    """Which way the fixture's axis leans as it comes out of the chuck, and what that does.

    toward_deg: where it leans, and so where the gap would be widest; None when it does not lean.
    at_face: eccentricity carried on to the base. face_runout_mm: full swing of a dial on the base.
    gap_bound_mm: most the gap can differ side to side over the measuring circle. gap_expected_mm:
    the shop's own share of that, None until it is estimated. u_: standard uncertainties.
    is_resolved: the lean is longer than the dial's step alone would make it 19 times in 20.
    """

    x_mrad: float
    y_mrad: float
    amount_mrad: float
    toward_deg: float | None
    u_component_mrad: float
    is_resolved: bool
    at_face: Eccentricity
    u_at_face_mm: float
    face_runout_mm: float
    gap_bound_mm: float
    u_gap_bound_mm: float
    gap_expected_mm: float | None
    u_gap_expected_mm: float | None


def axis_tilt(
    near: Eccentricity,
    far: Eccentricity,
    *,
    apart_mm: float,
    face_diameter_mm: float,
    measuring_radius_mm: float,
    to_face_mm: float = 0.0,
    u_component_mm: float = 0.0,
    carried: Share | None = None,
) -> AxisTilt:
    """Tilt of the fixture's axis from circles near the chuck and farther out, toward the base.

    apart_mm: along the axis, > 0. to_face_mm: from the far circle on to the base. u_component_mm:
    of each component of either circle (`Runout.u_component_mm`). carried: the shop's share.
    tilt = (far - near) / apart as vectors: equal TIRs at different clock positions still mean tilt.
    Base over its diameter: tilt x diameter. Gap over the measuring circle: at most tilt x 2 r.
    Raises NotFinite, NegativeLength, LengthTooLarge, BadInput on a zero distance or radius.
    Source: geometry (computed). Where the axis leans as it comes out, the base is left long.
    """
    apart = require_length_mm(apart_mm, what="Between the circles", above_zero=True)
    face = require_length_mm(face_diameter_mm, what="The base diameter", above_zero=True)
    circle = 2 * require_length_mm(
        measuring_radius_mm, what="The measuring radius", above_zero=True
    )
    reach = require_length_mm(to_face_mm, what="From the far circle to the base")
    u_each = require_length_mm(u_component_mm, what="The circles' uncertainty")

    x, y = (far.x_mm - near.x_mm) / apart, (far.y_mm - near.y_mm) / apart
    slope, u_slope = math.hypot(x, y), math.sqrt(2) * u_each / apart
    bound, u_bound = slope * circle, u_slope * circle
    expected = u_expected = None
    if carried is not None:
        expected = carried.value * bound
        u_expected = math.hypot(carried.value * u_bound, bound * carried.u)
    return AxisTilt(
        x_mrad=1000 * x,
        y_mrad=1000 * y,
        amount_mrad=1000 * slope,
        toward_deg=direction_deg(x, y) if slope > 0 else None,
        u_component_mrad=1000 * u_slope,
        is_resolved=slope > RESOLVED * u_slope,
        at_face=Eccentricity(far.x_mm + x * reach, far.y_mm + y * reach),
        u_at_face_mm=u_each * math.hypot(1 + reach / apart, reach / apart),
        face_runout_mm=slope * face,
        gap_bound_mm=bound,
        u_gap_bound_mm=u_bound,
        gap_expected_mm=expected,
        u_gap_expected_mm=u_expected,
    )
