"""How fast timing, volume, squish and the gap at speed change as the cylinder comes down."""

from __future__ import annotations

from dataclasses import dataclass

from qc.numerics.engine_effects.compression import MM3_PER_CC, bore_area_mm2
from qc.numerics.engine_effects.crank import (
    crank_angle_deg,
    piston_drop_mm,
    travel_per_degree_mm,
)
from qc.numerics.engine_effects.geometry import EngineGeometry
from qc.numerics.engine_effects.state import EngineState


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
    squish_velocity_ms: float | None
    running_gap_mm: float | None


def rates_of_lowering(engine: EngineGeometry, *, found: EngineState, step_mm: float) -> Rates:
    """Slopes at the engine as `found`, times `step_mm`.

    Source: derivatives of timing.py, compression.py and squish_flow.py (computed); per thou an
    exhaust moves 0.075 to 0.10 degrees on saw engines. The gap at speed loses all of the step.
    """
    exhaust = _edge_rate_deg(engine, engine.exhaust_mm, step_mm)
    transfer = _edge_rate_deg(engine, engine.transfer_mm, step_mm)
    volume = bore_area_mm2(engine.bore_mm) * step_mm / MM3_PER_CC
    geometric = trapped = None
    pressed = found.compression
    if pressed is not None:
        share = volume / pressed.clearance_cc
        geometric = (pressed.geometric_ratio - 1) * share
        trapped = None if pressed.trapped_ratio is None else pressed.trapped_ratio * share
    return Rates(
        step_mm=step_mm,
        exhaust_open_deg=exhaust,
        transfer_open_deg=transfer,
        blowdown_deg=None if exhaust is None or transfer is None else transfer - exhaust,
        intake_open_btdc_deg=_edge_rate_deg(engine, engine.intake_mm, step_mm),
        clearance_cc=-volume,
        geometric_ratio=geometric,
        trapped_ratio=trapped,
        squish_velocity_ms=_velocity_rate_ms(engine, found, step_mm),
        running_gap_mm=None if found.running is None else -step_mm,
    )


def _velocity_rate_ms(engine: EngineGeometry, found: EngineState, step_mm: float) -> float | None:
    """At the peak the velocity's slope over the angle is nought, so only the gap's counts.

    Lowering leaves the bowl as it was; with z the gap over the band at the peak and A z + Vb all
    the volume there, d ln v = (1 / z + A / (A z + Vb)) d.
    """
    peak, squish, pressed = found.squish_peak, found.squish_mm, found.compression
    if peak is None or squish is None or pressed is None:
        return None
    area = bore_area_mm2(engine.bore_mm)
    drop = float(piston_drop_mm(peak.btdc_deg, crank=engine.crank))
    over = pressed.clearance_cc * MM3_PER_CC + area * drop
    return peak.velocity_ms * (1 / (squish + drop) + area / over) * step_mm


def _edge_rate_deg(engine: EngineGeometry, height_mm: float | None, step_mm: float) -> float | None:
    # At a dead centre the piston stands still and no slope exists.
    if height_mm is None or height_mm in (0.0, engine.stroke_mm):
        return None
    angle = crank_angle_deg(height_mm, crank=engine.crank)
    return step_mm / float(travel_per_degree_mm(angle, crank=engine.crank))
