"""How fast timing, volume and compression change as the cylinder comes down, from as found."""

from __future__ import annotations

from dataclasses import dataclass

from qc.numerics.engine_effects.compression import MM3_PER_CC, bore_area_mm2, compression
from qc.numerics.engine_effects.crank import crank_angle_deg, travel_per_degree_mm
from qc.numerics.engine_effects.geometry import EngineGeometry


@dataclass(frozen=True)
class Rates:
    """Change for one step of lowering; positive = more. None where the engine lacks the inputs.

    exhaust_open_deg, transfer_open_deg: later. intake_open_btdc_deg: earlier.
    """

    step_mm: float
    exhaust_open_deg: float | None
    transfer_open_deg: float | None
    blowdown_deg: float | None
    intake_open_btdc_deg: float | None
    clearance_cc: float
    geometric_ratio: float | None
    trapped_ratio: float | None


def rates_of_lowering(engine: EngineGeometry, *, step_mm: float) -> Rates:
    """Slopes at the engine as found, times `step_mm`.

    Source: derivatives of timing.py and compression.py (computed); per thou an exhaust moves
    0.075 to 0.10 degrees on saw engines.
    """
    exhaust = _edge_rate_deg(engine, engine.exhaust_mm, step_mm)
    transfer = _edge_rate_deg(engine, engine.transfer_mm, step_mm)
    volume = bore_area_mm2(engine.bore_mm) * step_mm / MM3_PER_CC
    geometric = trapped = None
    if engine.clearance_cc is not None:
        found = compression(
            bore_mm=engine.bore_mm,
            stroke_mm=engine.stroke_mm,
            clearance_cc=engine.clearance_cc,
            exhaust_mm=engine.exhaust_mm,
        )
        share = volume / engine.clearance_cc
        geometric = (found.geometric_ratio - 1) * share
        trapped = None if found.trapped_ratio is None else found.trapped_ratio * share
    return Rates(
        step_mm=step_mm,
        exhaust_open_deg=exhaust,
        transfer_open_deg=transfer,
        blowdown_deg=None if exhaust is None or transfer is None else transfer - exhaust,
        intake_open_btdc_deg=_edge_rate_deg(engine, engine.intake_mm, step_mm),
        clearance_cc=-volume,
        geometric_ratio=geometric,
        trapped_ratio=trapped,
    )


def _edge_rate_deg(engine: EngineGeometry, height_mm: float | None, step_mm: float) -> float | None:
    # At a dead centre the piston stands still and no slope exists.
    if height_mm is None or height_mm in (0.0, engine.stroke_mm):
        return None
    angle = crank_angle_deg(height_mm, crank=engine.crank)
    return step_mm / float(travel_per_degree_mm(angle, crank=engine.crank))
