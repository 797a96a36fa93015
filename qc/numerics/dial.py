"""What a dial indicator can show: the doubt its step leaves, and a lever's slant put right."""

from __future__ import annotations

import math
from dataclasses import dataclass

from qc.numerics.checks import require_between, require_finite, require_length_mm

STEEPEST_LEVER_DEG = 60.0


@dataclass(frozen=True)
class IndicatingUncertainty:
    """Standard uncertainties that the dial's step alone leaves, mm and mrad.

    u_eccentricity_tir_mm: of half the TIR. u_component_mm: of either component of a fit to evenly
    spaced readings. u_tilt_mrad, u_span_mm: from two such circles, and over the span; None without.
    """

    u_reading_mm: float
    u_tir_mm: float
    u_eccentricity_tir_mm: float
    u_component_mm: float
    u_tilt_mrad: float | None
    u_span_mm: float | None


def u_of_step_mm(dial_step_mm: float) -> float:
    """Standard uncertainty of one reading: step / sqrt 12 (JCGM 100 F.2.2.1, memory)."""
    return require_length_mm(dial_step_mm, what="The dial's step", above_zero=True) / math.sqrt(12)


def indicating_uncertainty(
    dial_step_mm: float,
    *,
    readings: int,
    apart_mm: float | None = None,
    span_mm: float | None = None,
) -> IndicatingUncertainty:
    """What a dial of this step can show, before a reading is taken.

    readings: evenly spaced, on each circle, >= 3. apart_mm: between two circles. span_mm: over
    which their tilt is to be judged (base or measuring diameter).
    Source: u = step / sqrt 12 (JCGM 100 F.2.2.1, memory), propagated (computed).
    """
    u_reading = u_of_step_mm(dial_step_mm)
    require_between(readings, what="Readings on a circle", lowest=3, highest=1000)
    component = u_reading * math.sqrt(2 / readings)
    tilt = None
    if apart_mm is not None:
        apart = require_length_mm(apart_mm, what="Between the circles", above_zero=True)
        tilt = 1000 * component * math.sqrt(2) / apart
    over = None
    if tilt is not None and span_mm is not None:
        over = tilt / 1000 * require_length_mm(span_mm, what="The span")
    return IndicatingUncertainty(
        u_reading_mm=u_reading,
        u_tir_mm=u_reading * math.sqrt(2),
        u_eccentricity_tir_mm=u_reading / math.sqrt(2),
        u_component_mm=component,
        u_tilt_mrad=tilt,
        u_span_mm=over,
    )


def lever_true_mm(reading_mm: float, *, angle_deg: float) -> float:
    """Travel behind a lever indicator's reading, its arm at an angle to the surface.

    true = reading x cos(angle); the dial reads long when the arm stands off. Some indicators are
    built to read true at a set angle: follow the maker. Raises OutOfReach beyond 60 degrees.
    Source: Mitutoyo quick guide (found): 0.98 at 10, 0.94 at 20, 0.87 at 30, 0.50 at 60 degrees; a
    second printing gives 0.86 at 30, exact 0.866.
    """
    angle = require_between(
        angle_deg,
        what="The lever's angle (degrees)",
        lowest=-STEEPEST_LEVER_DEG,
        highest=STEEPEST_LEVER_DEG,
    )
    return float(require_finite(reading_mm, what="A dial reading")) * math.cos(math.radians(angle))
