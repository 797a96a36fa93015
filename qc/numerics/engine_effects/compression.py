"""Volumes and compression ratios, geometric and trapped, before and after lowering the cylinder.

Volumes are cc, lengths mm. Swept volume is the full stroke's; the trapped volume is what lies above
the piston when it has just closed the exhaust port, and lowering the cylinder leaves it as it was.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from qc.errors import BadInput
from qc.numerics.checks import (
    require_between,
    require_finite,
    require_length_between_mm,
    require_length_mm,
)
from qc.numerics.engine_effects.bounds import require_positive, require_under
from qc.numerics.engine_effects.crank import Crank, piston_drop_mm

MM3_PER_CC = 1000.0
LARGEST_CC = 1e5


@dataclass(frozen=True)
class Compression:
    """clearance_cc at top dead centre; ratios to one. trapped_ratio is None without an exhaust."""

    clearance_cc: float
    geometric_ratio: float
    trapped_ratio: float | None


def bore_area_mm2(bore_mm: float) -> float:
    """Raises NotFinite, NegativeLength, LengthTooLarge."""
    return math.pi * require_length_mm(bore_mm, what="The bore", above_zero=True) ** 2 / 4


def swept_cc(*, bore_mm: float, stroke_mm: float) -> float:
    """Bore area times stroke, cc. Source: definition; 65 x 54 mm gives 179.2 cc (found)."""
    stroke = require_length_mm(stroke_mm, what="The stroke", above_zero=True)
    return bore_area_mm2(bore_mm) * stroke / MM3_PER_CC


def burette_clearance_cc(*, filled_cc: float, plug_well_cc: float) -> float:
    """Clearance volume from the thin oil run in at top dead centre up to the plug seat, cc.

    plug_well_cc: what the plug's own thread fills once screwed in. Raises OutOfReach unless it is
    less than what was filled. Source: common practice (woonkymobile.info, found).
    """
    filled = require_positive(filled_cc, what="The volume filled (cc)", at_most=LARGEST_CC)
    return filled - require_under(plug_well_cc, what="The plug well (cc)", lowest=0.0, limit=filled)


def burette_compression(
    *,
    bore_mm: float,
    stroke_mm: float,
    filled_cc: float,
    plug_well_cc: float,
    exhaust_mm: float | None = None,
) -> Compression:
    """The burette's clearance volume with the ratios it gives this bore and stroke, as found.

    Raises what `burette_clearance_cc` and `compression` raise.
    """
    return compression(
        bore_mm=bore_mm,
        stroke_mm=stroke_mm,
        clearance_cc=burette_clearance_cc(filled_cc=filled_cc, plug_well_cc=plug_well_cc),
        exhaust_mm=exhaust_mm,
    )


def ratio_of_parts(*, at_bottom_cc: Sequence[float], at_top_cc: Sequence[float]) -> float:
    """Compression ratio from the volumes above the piston at each end of the stroke, one unit.

    Parts are added up (bore, gasket, deck, chamber; a dome counts negative). Raises BadInput if the
    volume at the top is not positive or exceeds that at the bottom.
    Source: definition; 9.01 from inch parts (circletrack.com, found).
    """
    bottom = math.fsum(require_finite(at_bottom_cc, what="A volume at the bottom"))
    top = math.fsum(require_finite(at_top_cc, what="A volume at the top"))
    if not 0 < top <= bottom:
        raise BadInput(
            why=f"{bottom:g} at the bottom over {top:g} at the top is no ratio. Check both."
        )
    return bottom / top


def compression(
    *,
    bore_mm: float,
    stroke_mm: float,
    clearance_cc: float,
    exhaust_mm: float | None = None,
    lowering_mm: float = 0.0,
) -> Compression:
    """Ratios with the cylinder lowered by `lowering_mm` (negative: raised).

    clearance_cc: as found. exhaust_mm: travel from top dead centre to the exhaust edge, as found.
    Vc' = Vc - A d; geometric (Vc' + A S) / Vc'; trapped (Vc + A x) / Vc'.
    Raises OutOfReach when lowering would use up the clearance volume, or the exhaust edge is
    outside the stroke. Source: definition; worked twice (computed).
    """
    area = bore_area_mm2(bore_mm)
    swept = swept_cc(bore_mm=bore_mm, stroke_mm=stroke_mm)
    clearance = clearance_left_cc(bore_mm, stroke_mm, clearance_cc, lowering_mm)
    trapped = None
    if exhaust_mm is not None:
        x = require_length_between_mm(
            exhaust_mm, what="The exhaust port's edge", lowest=0.0, highest=stroke_mm
        )
        trapped = (clearance_cc + area * x / MM3_PER_CC) / clearance
    return Compression(clearance, (clearance + swept) / clearance, trapped)


def clearance_left_cc(
    bore_mm: float, stroke_mm: float, clearance_cc: float, lowering_mm: float
) -> float:
    """What lowering leaves of the clearance volume, cc. Raises OutOfReach unless some is left."""
    swept = swept_cc(bore_mm=bore_mm, stroke_mm=stroke_mm)
    volume = require_positive(clearance_cc, what="The clearance volume (cc)", at_most=swept)
    depth = volume * MM3_PER_CC / bore_area_mm2(bore_mm)
    require_under(lowering_mm, what="Lowering the cylinder (mm)", lowest=-stroke_mm, limit=depth)
    return volume - bore_area_mm2(bore_mm) * lowering_mm / MM3_PER_CC


def spark_density_ratio(
    *, bore_mm: float, crank: Crank, clearance_cc: float, lowering_mm: float, spark_btdc_deg: float
) -> float:
    """How much denser the charge is at the spark after lowering, as a ratio to before.

    The same trapped charge in (Vc + A x) before and (Vc - A d + A x) after, x the travel at the
    spark. Ignition timing hangs on the crank and does not move with the cylinder.
    Source: geometry (computed). What to do about it is the builder's: see warnings.py.
    """
    spark = require_between(
        spark_btdc_deg, what="The spark's lead (degrees)", lowest=0.0, highest=180.0
    )
    left = clearance_left_cc(bore_mm, crank.stroke_mm, clearance_cc, lowering_mm)
    to_spark = bore_area_mm2(bore_mm) * float(piston_drop_mm(spark, crank=crank)) / MM3_PER_CC
    return (clearance_cc + to_spark) / (left + to_spark)
