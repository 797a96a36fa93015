"""Everything a cut does to one engine, before and after, in one call for a page or the API."""

from __future__ import annotations

from dataclasses import dataclass

from qc.numerics.checks import require_between, require_length_mm
from qc.numerics.engine_effects.bounds import require_under
from qc.numerics.engine_effects.compression import spark_density_ratio, swept_cc
from qc.numerics.engine_effects.crank import mean_piston_speed_ms, piston_acceleration_ms2
from qc.numerics.engine_effects.geometry import EngineGeometry
from qc.numerics.engine_effects.limits import ShopLimits
from qc.numerics.engine_effects.missing import not_computed
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
    spark, after over before. mean_piston_speed_ms, tdc_acceleration_ms2: at the free-running speed,
    which no cut alters. not_computed: a sentence for each sum whose inputs are not given.
    """

    before: EngineState
    after: EngineState
    per_hundredth: Rates
    per_thou: Rates
    swept_cc: float
    band_area_ratio: float | None
    spark_density_ratio: float | None
    mean_piston_speed_ms: float | None
    tdc_acceleration_ms2: float | None
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
) -> EngineEffects:
    """Effects of taking `cut_mm` off the base and changing the base gasket.

    gasket_change_mm: compressed thickness as found less that to be fitted; positive brings the
    cylinder nearer the crankcase, as the cut does. squish_mm, tightest_mm: as-found height and
    tightest gap. Crank degrees are after top dead centre unless named btdc.
    Raises NotFinite, NegativeLength or LengthTooLarge on an impossible cut, and OutOfReach when the
    cut would use up the flange, the gap or the clearance volume, or push a port out of the stroke.
    Source: each part names its own; worked through for three invented engines (computed).
    """
    require_length_mm(cut_mm, what="The cut")
    require_length_mm(abs(gasket_change_mm), what="The gasket change")
    if engine.flange_mm is not None:
        require_between(cut_mm, what="The cut (mm)", lowest=0.0, highest=engine.flange_mm)
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
        per_hundredth=rates_of_lowering(engine, step_mm=HUNDREDTH_MM),
        per_thou=rates_of_lowering(engine, step_mm=THOU_MM),
        swept_cc=swept_cc(bore_mm=engine.bore_mm, stroke_mm=engine.stroke_mm),
        band_area_ratio=None if engine.band is None else engine.band.area_ratio,
        spark_density_ratio=density,
        mean_piston_speed_ms=None if free is None else mean_piston_speed_ms(engine.crank, rpm=free),
        tdc_acceleration_ms2=None
        if free is None
        else float(piston_acceleration_ms2(0.0, crank=engine.crank, rpm=free)),
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
