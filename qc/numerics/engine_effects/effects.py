"""Everything a cut does to one engine, before and after, in one call for a page or the API."""

from __future__ import annotations

from dataclasses import dataclass

from qc.numerics.checks import require_length_between_mm, require_length_mm
from qc.numerics.engine_effects.bounds import require_under
from qc.numerics.engine_effects.compression import spark_density_ratio, swept_cc
from qc.numerics.engine_effects.geometry import EngineGeometry
from qc.numerics.engine_effects.limits import ShopLimits
from qc.numerics.engine_effects.missing import not_computed
from qc.numerics.engine_effects.piston import PistonMotion, piston_motion
from qc.numerics.engine_effects.rates import Rates, rates_of_lowering
from qc.numerics.engine_effects.state import EngineState, engine_state
from qc.numerics.engine_effects.warnings import CutWarning, warnings_of_cut

HUNDREDTH_MM = 0.01
THOU_MM = 0.0254


@dataclass(frozen=True)
class EngineEffects:
    """What the cut and gasket do together.

    before, after: the engine as found and as it will be. per_hundredth, per_thou: change for each
    0.01 mm and 0.001 in of lowering, from as found. spark_density_ratio: charge density at the
    spark, after over before. piston: at the free-running speed, which no cut alters.
    left_at_floor_mm: gap at speed of a cylinder whose tightest cold gap is just the floor; the
    losses are those of before.running. not_computed: a sentence for each sum left out.
    """

    before: EngineState
    after: EngineState
    per_hundredth: Rates
    per_thou: Rates
    swept_cc: float
    band_area_ratio: float | None
    spark_density_ratio: float | None
    piston: PistonMotion | None
    left_at_floor_mm: float | None
    warnings: tuple[CutWarning, ...]
    not_computed: tuple[str, ...]


def effects_of_cut(
    engine: EngineGeometry,
    *,
    cut_mm: float,
    gasket_change_mm: float = 0.0,
    limits: ShopLimits,
    squish_mm: float | None = None,
    tightest_mm: float | None = None,
    floor_mm: float | None = None,
) -> EngineEffects:
    """Effects of taking `cut_mm` off the base and changing the base gasket.

    gasket_change_mm: compressed thickness as found less that to be fitted; positive brings the
    cylinder nearer the crankcase, as the cut does. squish_mm, tightest_mm: as-found height and
    tightest gap. floor_mm: least cold gap allowed anywhere. Crank degrees are after top dead
    centre unless named btdc.
    Raises NotFinite, NegativeLength or LengthTooLarge on an impossible cut, and OutOfReach when the
    cut would use up the flange, the gap or the clearance volume, or push a port out of the stroke.
    Source: each part names its own; worked through for three invented engines (computed).
    """
    require_length_mm(cut_mm, what="The cut")
    require_length_mm(abs(gasket_change_mm), what="The gasket change")
    if engine.flange_mm is not None:
        require_length_between_mm(cut_mm, what="The cut", lowest=0.0, highest=engine.flange_mm)
    lowering_mm = cut_mm + gasket_change_mm
    for gap in (squish_mm, tightest_mm):
        if gap is not None:
            gap = require_length_mm(gap, what="The squish gap", above_zero=True)
            what = "Lowering the cylinder (mm)"
            require_under(lowering_mm, what=what, lowest=-engine.stroke_mm, limit=gap)

    before = engine_state(engine, squish_mm=squish_mm, tightest_mm=tightest_mm)
    after = engine_state(
        engine,
        squish_mm=squish_mm,
        tightest_mm=tightest_mm,
        cut_mm=cut_mm,
        lowering_mm=lowering_mm,
    )
    density = _spark_density(engine, lowering_mm)
    free = engine.rpm_free
    return EngineEffects(
        before=before,
        after=after,
        per_hundredth=rates_of_lowering(engine, found=before, step_mm=HUNDREDTH_MM),
        per_thou=rates_of_lowering(engine, found=before, step_mm=THOU_MM),
        swept_cc=swept_cc(bore_mm=engine.bore_mm, stroke_mm=engine.stroke_mm),
        band_area_ratio=None if engine.band is None else engine.band.area_ratio,
        spark_density_ratio=density,
        piston=None if free is None else piston_motion(engine.crank, rpm=free),
        left_at_floor_mm=_left_at_floor(before, floor_mm),
        warnings=warnings_of_cut(engine, before, after, limits=limits, spark_density=density),
        not_computed=not_computed(engine, squish_mm=squish_mm, tightest_mm=tightest_mm),
    )


def _spark_density(engine: EngineGeometry, lowering_mm: float) -> float | None:
    if engine.clearance_cc is None or engine.spark_btdc_deg is None:
        return None
    return spark_density_ratio(
        bore_mm=engine.bore_mm,
        crank=engine.crank,
        clearance_cc=engine.clearance_cc,
        lowering_mm=lowering_mm,
        spark_btdc_deg=engine.spark_btdc_deg,
    )


def _left_at_floor(found: EngineState, floor_mm: float | None) -> float | None:
    if floor_mm is None or found.running is None or found.tightest_mm is None:
        return None
    floor = require_length_mm(floor_mm, what="The floor")
    return floor - (found.tightest_mm - found.running.left_mm)
