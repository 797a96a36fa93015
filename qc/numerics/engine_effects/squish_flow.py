"""The squish band: how much of the bore it covers, and how fast the charge is squeezed out of it.

Gap, bore and band width in mm, clearance volume in cc, velocity in m/s, degrees before top dead
centre. A flat band at one gap all round; a tapered band or a leaning head is left out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import minimize_scalar

from qc.numerics.checks import LARGEST_GAP_MM, require_finite, require_length_mm
from qc.numerics.engine_effects.bounds import require_positive, require_rpm, require_under
from qc.numerics.engine_effects.compression import LARGEST_CC, MM3_PER_CC, bore_area_mm2
from qc.numerics.engine_effects.crank import Crank, piston_drop_mm, piston_speed_ms
from qc.numerics.results import FloatArray

SEARCH_STEP_DEG = 0.5


@dataclass(frozen=True)
class SquishBand:
    """Bore and band width, mm. Raises OutOfReach unless the band is narrower than half the bore."""

    bore_mm: float
    width_mm: float

    def __post_init__(self) -> None:
        half = require_length_mm(self.bore_mm, what="The bore", above_zero=True) / 2
        require_under(self.width_mm, what="The band width (mm)", lowest=0.0, limit=half)

    @property
    def inner_mm(self) -> float:
        """Diameter of the bowl inside the band."""
        return self.bore_mm - 2 * self.width_mm

    @property
    def area_ratio(self) -> float:
        """Share of the bore's area under the band, 0 to 1. In use 0.3 to 0.6 (dragonfly75.com)."""
        return 1 - (self.inner_mm / self.bore_mm) ** 2


@dataclass(frozen=True)
class BandVolume:
    """volume_cc held in the band at top dead centre; share of the clearance volume, 0 to 1."""

    volume_cc: float
    share: float


@dataclass(frozen=True)
class SquishPeak:
    velocity_ms: float
    btdc_deg: float


def width_for_area_ratio(area_ratio: float, *, bore_mm: float) -> float:
    """Band width, mm, that covers `area_ratio` of the bore.

    Raises OutOfReach unless 0 <= area_ratio < 1. Source: geometry; half of a 40 mm bore is 5.9 mm
    in print (solex-competition.net citing G. Jennings, found).
    """
    ratio = require_under(area_ratio, what="The area ratio", lowest=0.0, limit=1.0)
    bore = require_length_mm(bore_mm, what="The bore", above_zero=True)
    return bore / 2 * (1 - math.sqrt(1 - ratio))


def band_volume(
    *, bore_mm: float, area_ratio: float, gap_mm: float, clearance_cc: float
) -> BandVolume:
    """Charge that sits in the band at top dead centre, where it burns late or not at all.

    Raises OutOfReach where the gap over the whole bore would exceed the clearance volume.
    Source: geometry; 54 mm, half area, 8.8 cc: 1.94 cc at 1.7 mm (A. G. Bell as quoted on
    mototune14.blogspot.fr, found).
    """
    ratio = require_under(area_ratio, what="The area ratio", lowest=0.0, limit=1.0)
    _bowl_cc(bore_mm, gap_mm, clearance_cc)
    volume = bore_area_mm2(bore_mm) * ratio * gap_mm / MM3_PER_CC
    return BandVolume(volume, volume / clearance_cc)


def squish_velocity_ms(
    btdc_deg: ArrayLike,
    *,
    crank: Crank,
    band: SquishBand,
    rpm: float,
    gap_mm: float,
    clearance_cc: float,
) -> FloatArray:
    """Radial velocity at the band's inner edge, m/s, at each angle before top dead centre.

    Uniform density, no burning: v = Db / (4 z) ((B / Db)^2 - 1) Vb / (A z + Vb) Sp, z = gap + drop,
    Vb the bowl volume. Source: J. B. Heywood's form, to which G. P. Blair's stepwise transfer of
    mass converges (both memory; the stepwise sum computed to 1e-6). Raises OutOfReach where the gap
    leaves no bowl.
    """
    require_positive(gap_mm, what="The squish gap (mm)", at_most=LARGEST_GAP_MM)
    bowl_mm3 = _bowl_cc(band.bore_mm, gap_mm, clearance_cc) * MM3_PER_CC
    height = gap_mm + piston_drop_mm(btdc_deg, crank=crank)
    edge = band.inner_mm / 4 * ((band.bore_mm / band.inner_mm) ** 2 - 1) / height
    to_bowl = bowl_mm3 / (bore_area_mm2(band.bore_mm) * height + bowl_mm3)
    return np.asarray(edge * to_bowl * piston_speed_ms(btdc_deg, crank=crank, rpm=rpm))


def squish_peak(
    *, crank: Crank, band: SquishBand, rpm: float, gap_mm: float, clearance_cc: float
) -> SquishPeak:
    """Greatest squish velocity on the way up and where it falls.

    rpm: the loaded peak-power speed; a free-running speed makes every half-millimetre saw look out
    of range. Published limits disagree: 15-20 m/s (G. P. Blair as quoted on dragonfly75.com), 15-30
    (the same article), 20-30 (scootering.com).
    """

    def velocity(deg: ArrayLike) -> FloatArray:
        return squish_velocity_ms(
            deg, crank=crank, band=band, rpm=rpm, gap_mm=gap_mm, clearance_cc=clearance_cc
        )

    grid = np.arange(0.0, 180.0 + SEARCH_STEP_DEG, SEARCH_STEP_DEG)
    near = grid[int(np.argmax(velocity(grid)))]
    found = minimize_scalar(
        lambda deg: -float(velocity(deg)),
        bounds=(max(near - SEARCH_STEP_DEG, 0.0), near + SEARCH_STEP_DEG),
        method="bounded",
        options={"xatol": 1e-6},
    )
    return SquishPeak(velocity_ms=-float(found.fun), btdc_deg=float(found.x))


def velocity_at_rpm(velocity_ms: float, *, rpm: float, new_rpm: float) -> float:
    """Squish velocity goes with rpm. Source: 22 at 9000 is 29 at 12 000 (scootering.com, found)."""
    velocity = float(require_finite(velocity_ms, what="The squish velocity"))
    return velocity * require_rpm(new_rpm) / require_rpm(rpm)


def _bowl_cc(bore_mm: float, gap_mm: float, clearance_cc: float) -> float:
    volume = require_positive(clearance_cc, what="The clearance volume (cc)", at_most=LARGEST_CC)
    deepest = volume * MM3_PER_CC / bore_area_mm2(bore_mm)
    gap = require_under(gap_mm, what="The squish gap (mm)", lowest=0.0, limit=deepest)
    return volume - bore_area_mm2(bore_mm) * gap / MM3_PER_CC
