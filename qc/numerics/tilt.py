"""Gaps at clock positions to height, tilt vector and tightest point; turning between the clocks.

A tilt vector (a, b) has a toward 0 degrees and b toward 90, and points where the gap is widest.
Clocks run clockwise seen from the head. Which positions can hold one: `positions.py`.
"""

from __future__ import annotations

import math
from typing import Generic, NamedTuple, TypeVar

import numpy as np
import numpy.typing as npt

from qc.errors import AnglesDoNotSpan, BadInput
from qc.numerics.checks import (
    LARGEST_GAP_MM,
    require_finite,
    require_length_mm,
    require_lengths_mm,
    require_same_length,
)
from qc.numerics.positions import ANGLE_SLACK_DEG, Layout, clock_deg, layout, listed
from qc.numerics.results import FloatArray, GapFit, GapFits

REFERENCE_RADIUS_MM = 20.0
# Below this a tilt is rounding, and its direction means nothing; records keep 1e-6 mm.
EVEN_MM = 1e-9

Number = TypeVar("Number", float, FloatArray)


class TiltVector(NamedTuple, Generic[Number]):
    """a_mm toward 0 degrees, b_mm toward 90; one vector, or arrays of them."""

    a_mm: Number
    b_mm: Number


def fit_gap(value_mm: npt.ArrayLike, *, position_deg: npt.ArrayLike) -> GapFit:
    """Least-squares plane through position values: g(phi) = height + a cos(phi) + b sin(phi).

    value_mm, position_deg: shape (n,), n >= 1, one gap (mm, >= 0) per clock position, any order.
    Returns GapFit; fewer than three positions, or a gap over 180 degrees between neighbours, give
    no tilt: height is then the mean and only the fields those positions support are filled.
    Raises NotFinite, NegativeLength, LengthTooLarge (over 50 mm), TooFewReadings, BadInput when a
    position comes twice or the lengths differ.
    """
    require_same_length(value=value_mm, position=position_deg)
    value = require_lengths_mm(value_mm, what="A gap", at_most_mm=LARGEST_GAP_MM).ravel()
    order = np.argsort(clock_deg(position_deg).ravel())
    value, place = value[order], layout(np.ravel(np.asarray(position_deg))[order])
    if place.solver is None or place.unit_covariance is None:
        return _without_vector(value, place)

    height, a, b = (float(part) for part in place.solver @ value)
    amplitude = math.hypot(a, b)
    lowest = float(value.min())
    return GapFit(
        kind="vector",
        position_deg=place.position_deg,
        height_mm=height,
        lowest_mm=lowest,
        tightest_mm=min(lowest, height - amplitude),
        unit_height_variance=float(place.unit_covariance[0, 0]),
        a_mm=a,
        b_mm=b,
        amplitude_mm=amplitude,
        wide_toward_deg=direction_deg(a, b) if amplitude > EVEN_MM else None,
        side_to_side_mm=2.0 * amplitude,
        misfit_rms_mm=_misfit(value - _gap(height, a, b, place.position_deg)),
        saddle_mm=_saddle(value, place.position_deg),
        unit_covariance=place.unit_covariance[1:, 1:],
    )


def _without_vector(value: FloatArray, place: Layout) -> GapFit:
    opposite = place.kind == "component"
    return GapFit(
        kind=place.kind,
        position_deg=place.position_deg,
        height_mm=float(value.mean()),
        lowest_mm=float(value.min()),
        tightest_mm=float(value.min()),
        unit_height_variance=1.0 / value.size,
        component_axis_deg=float(place.position_deg[0]) if opposite else None,
        component_mm=float(value[0] - value[1]) / 2.0 if opposite else None,
    )


def _misfit(residual_mm: FloatArray) -> float | None:
    freedom = residual_mm.size - 3
    return math.sqrt(float(residual_mm @ residual_mm) / freedom) if freedom > 0 else None


def _saddle(value: FloatArray, position: FloatArray) -> float | None:
    evenly = position.size == 4 and np.allclose(np.diff(position), 90.0, atol=ANGLE_SLACK_DEG)
    return float(value[0] - value[1] + value[2] - value[3]) / 4.0 if evenly else None


def fit_gaps(value_mm: npt.ArrayLike, *, position_deg: npt.ArrayLike) -> GapFits:
    """The fit of `fit_gap` for many jobs read at the same positions.

    value_mm: shape (n, k), one row per job. position_deg: shape (k,), columns in the same order.
    Returns GapFits of shape (n,) arrays. Raises AnglesDoNotSpan when the positions hold no tilt,
    and otherwise as fit_gap.
    """
    return fit_rows(value_mm, place=layout(position_deg))


def fit_rows(value_mm: npt.ArrayLike, *, place: Layout) -> GapFits:
    """`fit_gaps` for positions already sorted out, so that blocks of jobs need not do it again."""
    value = require_lengths_mm(value_mm, what="A gap", at_most_mm=LARGEST_GAP_MM)
    if place.solver is None:
        raise AnglesDoNotSpan(got=listed(place.position_deg))
    if value.ndim != 2 or value.shape[1] != place.position_deg.size:
        raise BadInput(why=f"Need {place.position_deg.size} gaps a job, got {value.shape}.")
    by_position = np.ascontiguousarray(value.T)
    height, a, b = place.solver @ by_position
    amplitude = np.sqrt(a * a + b * b)
    lowest = by_position.min(axis=0)
    return GapFits(
        height_mm=height,
        a_mm=a,
        b_mm=b,
        amplitude_mm=amplitude,
        side_to_side_mm=2.0 * amplitude,
        lowest_mm=lowest,
        tightest_mm=np.minimum(lowest, height - amplitude),
    )


def require_tilt(fit: GapFit) -> TiltVector[float]:
    """The tilt vector of a fit. Raises AnglesDoNotSpan when its positions could not hold one."""
    if fit.a_mm is None or fit.b_mm is None:
        raise AnglesDoNotSpan(got=listed(fit.position_deg))
    return TiltVector(fit.a_mm, fit.b_mm)


def gap_at(fit: GapFit, position_deg: npt.ArrayLike) -> FloatArray:
    """Fitted gap at any clock positions, mm, of their shape. Raises AnglesDoNotSpan."""
    tilt = require_tilt(fit)
    return _gap(fit.height_mm, *tilt, require_finite(position_deg, what="A clock position"))


def _gap(height: float, a: float, b: float, position_deg: FloatArray) -> FloatArray:
    phi = np.radians(position_deg)
    return np.asarray(height + a * np.cos(phi) + b * np.sin(phi))


def direction_deg(a_mm: float, b_mm: float) -> float:
    """Clock position, 0 <= degrees < 360, toward which a vector points."""
    turned = math.degrees(math.atan2(b_mm, a_mm)) % 360.0
    return turned if turned < 360.0 else 0.0


def turn(a_mm: Number, b_mm: Number, *, by_deg: Number | float) -> TiltVector[Number]:
    """R(by) applied to (a, b): the direction grows by `by_deg`, the length stays."""
    angle = np.radians(by_deg)
    c, s = np.cos(angle), np.sin(angle)
    return TiltVector(c * a_mm - s * b_mm, s * a_mm + c * b_mm)


def to_engine_frame(
    a_mm: Number, b_mm: Number, *, clocking_deg: Number | float
) -> TiltVector[Number]:
    """A vector on the fixture's clock, seen on the engine's.

    clocking_deg: the engine's clock position at which the fixture's index mark stands.
    """
    return turn(a_mm, b_mm, by_deg=clocking_deg)


def to_fixture_frame(
    a_mm: Number, b_mm: Number, *, clocking_deg: Number | float
) -> TiltVector[Number]:
    """A vector on the engine's clock, seen on the fixture's; clocking as in to_engine_frame."""
    return turn(a_mm, b_mm, by_deg=-clocking_deg)


def scaled_to_radius(
    side_to_side_mm: Number, *, radius_mm: float, reference_mm: float = REFERENCE_RADIUS_MM
) -> Number:
    """A side-to-side difference read on one radius, as it would be on the reference radius, mm."""
    return side_to_side_mm * (reference_mm / _radius(radius_mm))


def tilt_mrad(amplitude_mm: Number, *, radius_mm: float) -> Number:
    """Slope of the gap, milliradians: amplitude over measuring radius, x 1000."""
    return amplitude_mm * (1000.0 / _radius(radius_mm))


def _radius(radius_mm: float) -> float:
    return require_length_mm(radius_mm, what="The measuring radius", above_zero=True)
