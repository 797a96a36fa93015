"""What is left of the tightest cold gap when the engine runs at its highest speed.

The cold gap must exceed rod stretch, bearing float, piston rock and carbon together. Heat is left
out: an aluminium cylinder outgrows a steel rod and usually opens the gap a few hundredths, but a
hot piston in a cold cylinder does the opposite.
"""

from __future__ import annotations

from dataclasses import dataclass

from qc.numerics.checks import require_finite, require_length_mm
from qc.numerics.engine_effects.bounds import require_positive
from qc.numerics.engine_effects.crank import Crank, piston_acceleration_ms2

STEEL_MPA = 205_000.0
"""Young's modulus of rod steel (memory)."""


@dataclass(frozen=True)
class RunningGap:
    """left_mm = cold tightest gap less the four losses, mm; negative means the piston touches."""

    rod_stretch_mm: float
    bearing_radial_mm: float
    rock_mm: float
    carbon_mm: float
    left_mm: float


def rod_stretch_mm(
    *, reciprocating_kg: float, crank: Crank, rpm: float, shank_area_mm2: float
) -> float:
    """How much the rod's shank lengthens as it stops the piston at top dead centre, mm.

    m a L / (A E), a = R w^2 (1 + R/L); the mass is all that goes up and down. Ten per cent of
    over-speed adds 21 %. Source: Hooke's law (computed); the modulus from memory.
    """
    mass = require_positive(reciprocating_kg, what="The reciprocating mass (kg)", at_most=1e3)
    area = require_positive(shank_area_mm2, what="The rod's shank area (mm2)", at_most=1e5)
    force_n = mass * float(piston_acceleration_ms2(0.0, crank=crank, rpm=rpm))
    return force_n * crank.rod_mm / (area * STEEL_MPA)


def piston_rock_mm(*, bore_mm: float, skirt_clearance_mm: float, skirt_length_mm: float) -> float:
    """Rise of the crown's edge, across the pin, from upright to leaned, mm.

    (bore / 2)(skirt clearance / skirt length). Source: geometry (computed).
    """
    bore = require_length_mm(bore_mm, what="The bore", above_zero=True)
    clearance = require_length_mm(skirt_clearance_mm, what="The skirt clearance")
    skirt = require_length_mm(skirt_length_mm, what="The skirt length", above_zero=True)
    return bore / 2 * clearance / skirt


def running_gap(
    cold_tightest_mm: float,
    *,
    rod_stretch_mm: float = 0.0,
    bearing_radial_mm: float = 0.0,
    rock_mm: float = 0.0,
    carbon_mm: float = 0.0,
) -> RunningGap:
    """Gap left at speed at the tightest place, mm.

    bearing_radial_mm: how far all bearings together let the piston float up and down. Solder pushes
    the piston away from the head, so the measured gap is wider by the whole of it.
    Raises NotFinite, NegativeLength, LengthTooLarge on a loss that cannot be.
    Source: reasoned from the parts; the allowances are the builder's own measurements.
    """
    losses = {
        "The rod stretch": rod_stretch_mm,
        "The bearing play": bearing_radial_mm,
        "The piston rock": rock_mm,
        "The carbon": carbon_mm,
    }
    lost = sum(require_length_mm(value, what=what) for what, value in losses.items())
    left = float(require_finite(cold_tightest_mm, what="The tightest gap")) - lost
    return RunningGap(rod_stretch_mm, bearing_radial_mm, rock_mm, carbon_mm, left)
