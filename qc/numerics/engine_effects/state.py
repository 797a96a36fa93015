"""One engine at one height of its cylinder: timing, compression, squish, running gap, flange."""

from __future__ import annotations

from dataclasses import dataclass

from qc.numerics.engine_effects.compression import Compression, compression
from qc.numerics.engine_effects.geometry import EngineGeometry
from qc.numerics.engine_effects.running_gap import (
    RunningGap,
    piston_rock_mm,
    rod_stretch_mm,
    running_gap,
)
from qc.numerics.engine_effects.squish_flow import BandVolume, SquishPeak, band_volume, squish_peak
from qc.numerics.engine_effects.timing import PortTiming, port_timing


@dataclass(frozen=True)
class EngineState:
    """lowering_mm: from as found. Any part is None where its inputs are not given."""

    lowering_mm: float
    timing: PortTiming
    compression: Compression | None
    squish_mm: float | None
    tightest_mm: float | None
    band: BandVolume | None
    squish_peak: SquishPeak | None
    running: RunningGap | None
    flange_mm: float | None


def engine_state(
    engine: EngineGeometry,
    *,
    squish_mm: float | None,
    tightest_mm: float | None,
    cut_mm: float = 0.0,
    lowering_mm: float = 0.0,
) -> EngineState:
    """The engine with its cylinder lowered; squish_mm, tightest_mm and the geometry as found."""
    squish = None if squish_mm is None else squish_mm - lowering_mm
    tightest = None if tightest_mm is None else tightest_mm - lowering_mm
    pressed = _compression(engine, lowering_mm)
    return EngineState(
        lowering_mm=lowering_mm,
        timing=port_timing(engine.ports, crank=engine.crank, lowering_mm=lowering_mm),
        compression=pressed,
        squish_mm=squish,
        tightest_mm=tightest,
        band=_band(engine, squish, pressed),
        squish_peak=_peak(engine, squish, pressed),
        running=_running(engine, tightest),
        flange_mm=None if engine.flange_mm is None else engine.flange_mm - cut_mm,
    )


def _compression(engine: EngineGeometry, lowering_mm: float) -> Compression | None:
    if engine.clearance_cc is None:
        return None
    return compression(
        bore_mm=engine.bore_mm,
        stroke_mm=engine.stroke_mm,
        clearance_cc=engine.clearance_cc,
        exhaust_mm=engine.exhaust_mm,
        lowering_mm=lowering_mm,
    )


def _band(
    engine: EngineGeometry, squish_mm: float | None, pressed: Compression | None
) -> BandVolume | None:
    if engine.band is None or squish_mm is None or pressed is None:
        return None
    return band_volume(
        bore_mm=engine.bore_mm,
        area_ratio=engine.band.area_ratio,
        gap_mm=squish_mm,
        clearance_cc=pressed.clearance_cc,
    )


def _peak(
    engine: EngineGeometry, squish_mm: float | None, pressed: Compression | None
) -> SquishPeak | None:
    if engine.band is None or squish_mm is None or pressed is None or engine.rpm_loaded is None:
        return None
    return squish_peak(
        crank=engine.crank,
        band=engine.band,
        rpm=engine.rpm_loaded,
        gap_mm=squish_mm,
        clearance_cc=pressed.clearance_cc,
    )


def _running(engine: EngineGeometry, tightest_mm: float | None) -> RunningGap | None:
    """None unless every loss is known: one left out would show more gap than there is."""
    if (
        tightest_mm is None
        or engine.reciprocating_kg is None
        or engine.rod_shank_mm2 is None
        or engine.rpm_free is None
        or engine.bearing_radial_mm is None
        or engine.skirt_clearance_mm is None
        or engine.skirt_length_mm is None
        or engine.carbon_mm is None
    ):
        return None
    return running_gap(
        tightest_mm,
        rod_stretch_mm=rod_stretch_mm(
            reciprocating_kg=engine.reciprocating_kg,
            crank=engine.crank,
            rpm=engine.rpm_free,
            shank_area_mm2=engine.rod_shank_mm2,
        ),
        bearing_radial_mm=engine.bearing_radial_mm,
        rock_mm=piston_rock_mm(
            bore_mm=engine.bore_mm,
            skirt_clearance_mm=engine.skirt_clearance_mm,
            skirt_length_mm=engine.skirt_length_mm,
        ),
        carbon_mm=engine.carbon_mm,
    )
