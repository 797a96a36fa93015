"""The slider crank: piston travel from crank angle and back, speed and acceleration.

Angles are crank degrees after top dead centre; travel is mm down from top dead centre. The pin
lies on the bore's axis: an offset pin or a cranked cylinder is left out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from qc.errors import RodTooShort
from qc.numerics.checks import require_length_between_mm, require_length_mm
from qc.numerics.engine_effects.bounds import require_positive, require_rpm
from qc.numerics.results import FloatArray


@dataclass(frozen=True)
class Crank:
    """Stroke and rod length between centres, mm.

    Raises RodTooShort unless the rod is longer than half the stroke (a shorter one cannot pass the
    side of the crank circle); NotFinite, NegativeLength, LengthTooLarge on an impossible length.
    """

    stroke_mm: float
    rod_mm: float

    def __post_init__(self) -> None:
        require_length_mm(self.stroke_mm, what="The stroke", above_zero=True)
        require_length_mm(self.rod_mm, what="The rod", above_zero=True)
        if self.rod_mm <= self.throw_mm:
            raise RodTooShort(rod_mm=self.rod_mm, stroke_mm=self.stroke_mm)

    @property
    def throw_mm(self) -> float:
        """Half the stroke."""
        return self.stroke_mm / 2


def piston_drop_mm(crank_deg: ArrayLike, *, crank: Crank) -> FloatArray:
    """Travel from top dead centre, mm, of any shape of crank angles, degrees.

    x = R (1 - cos) + L - sqrt(L^2 - R^2 sin^2), written so that small angles lose no digits.
    Source: geometry of the crank; drops of three cranks computed by bisection as a second route.
    """
    angle = np.radians(np.asarray(crank_deg, dtype=float))
    throw, rod = crank.throw_mm, crank.rod_mm
    side = throw * np.sin(angle)
    return np.asarray(
        2 * throw * np.sin(angle / 2) ** 2 + side**2 / (rod + np.sqrt(rod**2 - side**2))
    )


def crank_angle_deg(drop_mm: float, *, crank: Crank, what: str = "The piston travel") -> float:
    """Crank angle, 0 to 180 degrees after top dead centre, at which the piston is `drop_mm` down.

    The half-angle form of theta = acos((P^2 + R^2 - L^2) / (2 P R)), P = R + L - x, exact near both
    dead centres. Raises OutOfReach outside the stroke, naming `what`.
    Source: geometry; 60 stroke, 120 rod, 2.0 mm gives 18.8 degrees (A. G. Bell, Two Stroke
    Performance Tuning, as quoted on bansheehq.com, found).
    """
    x = require_length_between_mm(drop_mm, what=what, lowest=0.0, highest=crank.stroke_mm)
    short, long = crank.stroke_mm, 2 * crank.rod_mm
    down, up = x * (long - x), (short - x) * (short + long - x)
    return float(np.degrees(2 * np.arctan2(np.sqrt(down), np.sqrt(up))))


def travel_per_degree_mm(crank_deg: ArrayLike, *, crank: Crank) -> FloatArray:
    """Travel a degree of crank makes, mm, at each angle; positive going down.

    Source: the derivative of piston_drop_mm (computed).
    """
    angle = np.radians(np.asarray(crank_deg, dtype=float))
    throw, sine = crank.throw_mm, np.sin(angle)
    rod_rise = np.sqrt(crank.rod_mm**2 - (throw * sine) ** 2)
    return np.asarray(np.radians(throw * sine * (1 + throw * np.cos(angle) / rod_rise)))


def piston_speed_ms(crank_deg: ArrayLike, *, crank: Crank, rpm: float) -> FloatArray:
    """Speed, m/s, at each crank angle at a steady rpm; positive going down."""
    degrees_per_second = 6 * require_rpm(rpm)
    return travel_per_degree_mm(crank_deg, crank=crank) * degrees_per_second / 1000


def piston_acceleration_ms2(crank_deg: ArrayLike, *, crank: Crank, rpm: float) -> FloatArray:
    """Acceleration, m/s^2, at each crank angle at a steady rpm; positive away from the head.

    At top dead centre it is R w^2 (1 + R/L), the figure that stretches the rod.
    Source: the second derivative of piston_drop_mm (computed).
    """
    angle = np.radians(np.asarray(crank_deg, dtype=float))
    throw, sine, cosine = crank.throw_mm, np.sin(angle), np.cos(angle)
    rod_rise = np.sqrt(crank.rod_mm**2 - (throw * sine) ** 2)
    per_radian2 = throw * cosine + throw**2 * (
        np.cos(2 * angle) / rod_rise + (throw * sine * cosine) ** 2 / rod_rise**3
    )
    return np.asarray(per_radian2 * (require_rpm(rpm) * np.pi / 30) ** 2 / 1000)


def mean_piston_speed_ms(crank: Crank, *, rpm: float) -> float:
    """Two strokes a turn, m/s. Source: definition."""
    return 2 * crank.stroke_mm / 1000 * require_rpm(rpm) / 60


def jennings_acceleration_fts2(*, stroke_in: float, rod_ratio: float, rpm: float) -> float:
    """Peak acceleration in ft/s^2 in the inch form the two-stroke books print.

    rod_ratio: rod length over stroke. rpm^2 S / 2189 (1 + 1 / (2 L/S)); source G. Jennings, Two-
    Stroke Tuner's Handbook (memory). The constant is 2188.5 exactly (computed): 0.02 % low.
    """
    stroke_in = require_positive(stroke_in, what="The stroke (in)", at_most=80)
    rod_ratio = require_positive(rod_ratio, what="Rod length over stroke", at_most=100)
    return require_rpm(rpm) ** 2 * stroke_in / 2189 * (1 + 1 / (2 * rod_ratio))
