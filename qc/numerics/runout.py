"""Dial readings round a circle: runout, how far off centre and which way, form left over.

Readings are mm and larger where the surface stands nearer the dial. Angles are clock positions of
the part under the dial, clockwise seen from the head, any number at any spacing that surrounds the
circle. What a dial can show: dial.py. What to do about an offset: indicating.py. Two circles
together: axis_tilt.py.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from qc.errors import AnglesDoNotSpan
from qc.numerics.checks import (
    require_finite,
    require_length_between_mm,
    require_length_mm,
    require_same_length,
)
from qc.numerics.dial import u_of_step_mm
from qc.numerics.positions import clock_deg, layout, listed
from qc.numerics.results import FloatArray
from qc.numerics.tilt import EVEN_MM, direction_deg

LARGEST_SWING_MM = 25.0
RESOLVED = math.sqrt(-2 * math.log(0.05))
"""A vector of pure noise is longer than 2.45 standard deviations one time in twenty (Rayleigh)."""


@dataclass(frozen=True)
class Eccentricity:
    """How far a centre lies off the turning axis, mm: x toward 0 degrees, y toward 90."""

    x_mm: float
    y_mm: float

    @classmethod
    def toward(cls, high_deg: float, amount_mm: float) -> Eccentricity:
        amount = require_length_mm(amount_mm, what="The eccentricity")
        angle = math.radians(float(require_finite(high_deg, what="The high spot")))
        return cls(amount * math.cos(angle), amount * math.sin(angle))

    @property
    def amount_mm(self) -> float:
        return math.hypot(self.x_mm, self.y_mm)

    @property
    def high_deg(self) -> float | None:
        """Clock position of the high spot, 0 <= degrees < 360; None when centred."""
        return direction_deg(self.x_mm, self.y_mm) if self.amount_mm > EVEN_MM else None


@dataclass(frozen=True, eq=False)
class Runout:
    """The offset circle fitted to one turn of the dial.

    tir_mm: largest less smallest reading taken. residual_mm: shape (n,), in the order given.
    form_left_mm: largest less smallest residual, None where three angles leave nothing over.
    covariance_mm2: shape (2, 2), of the eccentricity's x and y, from the dial's step alone.
    u_high_deg: None while the offset does not stand clear of the dial's step.
    """

    mean_mm: float
    eccentricity: Eccentricity
    tir_mm: float
    form_left_mm: float | None
    residual_mm: FloatArray
    covariance_mm2: FloatArray
    u_tir_mm: float
    u_eccentricity_mm: float
    u_high_deg: float | None

    @property
    def u_component_mm(self) -> float:
        """Standard uncertainty of the less certain of x and y, along whichever axis that is."""
        return math.sqrt(float(np.linalg.eigvalsh(self.covariance_mm2).max()))


def fit_runout(dial_mm: ArrayLike, *, angles_deg: ArrayLike, dial_step_mm: float) -> Runout:
    """Least-squares circle: reading = mean + x cos + y sin + form.

    dial_mm, angles_deg: shape (n,), any order; an angle may be read more than once. dial_step_mm:
    what one mark of the dial is worth, > 0; each reading then has u = step / sqrt 12. Readings of a
    needle that sits still on one mark share one error: many of them do not average it away.
    With lobes in the surface half the TIR is not the eccentricity; the fit is.
    Raises AnglesDoNotSpan unless three or more different angles leave no gap over 180 degrees;
    NotFinite, OutOfReach beyond 25 mm, BadInput on unequal lengths or a step of zero.
    Source: NIST/SEMATECH mpc344 and the least-squares circle (found); step / sqrt 12 from JCGM 100
    F.2.2.1 (memory).
    """
    require_same_length(dial=dial_mm, angles=angles_deg)
    dial = require_finite(dial_mm, what="A dial reading").ravel()
    for extreme in (dial.min(), dial.max()):
        require_length_between_mm(
            extreme,
            what="A dial reading",
            lowest=-LARGEST_SWING_MM,
            highest=LARGEST_SWING_MM,
        )
    u_reading = u_of_step_mm(dial_step_mm)
    angles = clock_deg(angles_deg).ravel()
    different = np.unique(angles)
    if layout(different).kind != "vector":
        raise AnglesDoNotSpan(got=listed(different))

    phi = np.radians(angles)
    design = np.column_stack([np.ones_like(phi), np.cos(phi), np.sin(phi)])
    solver = np.linalg.pinv(design)
    mean, x, y = (float(part) for part in solver @ dial)
    residual = dial - design @ np.array([mean, x, y])
    covariance = (u_reading**2 * solver @ solver.T)[1:, 1:]
    offset = Eccentricity(x, y)
    along, across = _spread_along(offset, covariance)
    return Runout(
        mean_mm=mean,
        eccentricity=offset,
        tir_mm=float(np.ptp(dial)),
        form_left_mm=float(np.ptp(residual)) if different.size > 3 else None,
        residual_mm=residual,
        covariance_mm2=covariance,
        u_tir_mm=u_reading * math.sqrt(2),
        u_eccentricity_mm=along,
        u_high_deg=math.degrees(across / offset.amount_mm)
        if offset.amount_mm > RESOLVED * across
        else None,
    )


def _spread_along(offset: Eccentricity, covariance: FloatArray) -> tuple[float, float]:
    """Standard uncertainty along the offset and square to it."""
    angle = math.radians(offset.high_deg or 0.0)
    along = np.array([math.cos(angle), math.sin(angle)])
    across = np.array([-along[1], along[0]])
    return math.sqrt(along @ covariance @ along), math.sqrt(across @ covariance @ across)
