"""Setting a fixture true: which way to move it, what tightening did, whether it will do.

Angles are clock positions on the fixture, clockwise seen from the head.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from qc.errors import BadInput
from qc.numerics.checks import require_finite, require_length_mm
from qc.numerics.positions import layout
from qc.numerics.runout import RESOLVED, Eccentricity
from qc.numerics.tilt import EVEN_MM, direction_deg

GUARD = 1.645
COMMON_LIMIT_MM = 0.0127
"""Half a thousandth of an inch on the dial: common practice, no source. A shop sets its own."""
FOUR_JAWS = (0.0, 90.0, 180.0, 270.0)
THREE_JAWS = (0.0, 120.0, 240.0)

Indicated = Literal["within", "over", "cannot tell"]


@dataclass(frozen=True)
class JawMove:
    """move_mm: positive lets the work go out toward this jaw, negative drives it away."""

    jaw_deg: float
    move_mm: float


@dataclass(frozen=True)
class Tap:
    """Move the work by move_mm toward toward_deg: strike or drive it at strike_deg, the high spot.

    With the dial on the high spot it should fall by move_mm. Both directions are None if centred.
    """

    move_mm: float
    toward_deg: float | None
    strike_deg: float | None
    x_mm: float
    y_mm: float
    jaws: tuple[JawMove, ...]


@dataclass(frozen=True)
class TighteningShift:
    """How the axis moved as a vector, mm; positive x toward 0 degrees.

    tir_change_mm: what comparing the two TIRs alone would show of a round surface.
    is_resolved: the move is longer than the dial's step alone would make it 19 times in 20.
    """

    x_mm: float
    y_mm: float
    moved_mm: float
    toward_deg: float | None
    tir_change_mm: float
    u_component_mm: float
    is_resolved: bool


def tap_to_centre(offset: Eccentricity, *, jaws_deg: Sequence[float] = FOUR_JAWS) -> Tap:
    """Which way and how far to move the work so that it runs true, and each jaw's part in it.

    The work goes by its whole eccentricity away from the high spot; each jaw takes the part of that
    along its own direction. Raises BadInput unless three or more jaws surround the work.
    Source: components of a vector (computed). A tutorial that moves three tenths of the TIR
    differs, as the high spot seldom faces a jaw (the-vms.com, found).
    """
    jaws = require_finite(list(jaws_deg), what="A jaw's position")
    if layout(jaws).kind != "vector":
        raise BadInput(why="Give the clock positions of three or more jaws that surround the work.")
    x, y = -offset.x_mm, -offset.y_mm
    moves = x * np.cos(np.radians(jaws)) + y * np.sin(np.radians(jaws))
    high = offset.high_deg
    return Tap(
        move_mm=offset.amount_mm,
        toward_deg=None if high is None else direction_deg(x, y),
        strike_deg=high,
        x_mm=x,
        y_mm=y,
        jaws=tuple(
            JawMove(jaw, move) for jaw, move in zip(jaws.tolist(), moves.tolist(), strict=True)
        ),
    )


def taps_for_two_planes(
    near: Eccentricity, far: Eccentricity, *, jaws_deg: Sequence[float] = FOUR_JAWS
) -> tuple[Tap, Tap]:
    """First move the near circle true, which carries the far one along; then swing the far one."""
    left = Eccentricity(far.x_mm - near.x_mm, far.y_mm - near.y_mm)
    return tap_to_centre(near, jaws_deg=jaws_deg), tap_to_centre(left, jaws_deg=jaws_deg)


def tightening_shift(
    snug: Eccentricity, tight: Eccentricity, *, u_component_mm: float = 0.0
) -> TighteningShift:
    """How tightening the jaws moved the axis. Equal TIRs before and after can hide a real move.

    u_component_mm: of each component of either circle. Source: difference of vectors (computed).
    """
    u = math.sqrt(2) * require_length_mm(u_component_mm, what="The circles' uncertainty")
    x, y = tight.x_mm - snug.x_mm, tight.y_mm - snug.y_mm
    moved = math.hypot(x, y)
    return TighteningShift(
        x_mm=x,
        y_mm=y,
        moved_mm=moved,
        toward_deg=direction_deg(x, y) if moved > EVEN_MM else None,
        tir_change_mm=2 * (tight.amount_mm - snug.amount_mm),
        u_component_mm=u,
        is_resolved=moved > RESOLVED * u,
    )


def judge_indicated(
    value_mm: float, *, limit_mm: float = COMMON_LIMIT_MM, u_mm: float = 0.0
) -> Indicated:
    """Whether an indicated value (TIR, shift, face runout) is within the shop's limit.

    "cannot tell" while value and limit are closer than 1.645 u: the dial is too coarse to say.
    Raises NotFinite, NegativeLength, LengthTooLarge.
    """
    value = require_length_mm(value_mm, what="The indicated value")
    limit = require_length_mm(limit_mm, what="The indicating limit")
    guard = GUARD * require_length_mm(u_mm, what="The indicated value's uncertainty")
    if value <= limit - guard:
        return "within"
    return "over" if value > limit + guard else "cannot tell"
