"""What a cut does to this family of engine, by its geometry and the shop's limits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from decimal import Decimal
from typing import Any

from qc.errors import BadInput
from qc.models import EngineFamily, ShopPolicy
from qc.numerics.engine_effects import (
    Compression,
    EngineEffects,
    EngineGeometry,
    Limit,
    PortWindow,
    RingData,
    ShopLimits,
    burette_compression,
    effects_of_cut,
)

GEOMETRY = (
    "bore_mm",
    "stroke_mm",
    "rod_mm",
    "exhaust_mm",
    "transfer_mm",
    "intake_mm",
    "clearance_cc",
    "band_width_mm",
    "rpm_loaded",
    "rpm_free",
    "reciprocating_kg",
    "rod_shank_mm2",
    "bearing_radial_mm",
    "skirt_clearance_mm",
    "skirt_length_mm",
    "carbon_mm",
    "spark_btdc_deg",
    "exhaust_floor_mm",
    "skirt_below_crown_mm",
)


def geometry_of(family: EngineFamily, *, flange_mm: float | None = None) -> EngineGeometry:
    """The family as the sums need it, with the flange of the cylinder at hand."""
    known = {name: _number(getattr(family, name)) for name in GEOMETRY}
    return EngineGeometry(**known, flange_mm=flange_mm, ring=_ring(family))  # type: ignore[arg-type]


def _number(value: Decimal | int | None) -> float | None:
    return None if value is None else float(value)


def _ring(family: EngineFamily) -> RingData | None:
    if family.ring_end_deg is None or family.ring_below_crown_mm is None:
        return None
    windows = tuple(
        PortWindow(
            name=one.name,
            centre_deg=float(one.centre_deg),
            half_width_deg=float(one.half_width_deg),
            upper_mm=float(one.upper_mm),
            lower_mm=float(one.lower_mm),
        )
        for one in family.windows.all()
    )
    return RingData(float(family.ring_end_deg), float(family.ring_below_crown_mm), windows)


def burette_of(family: EngineFamily, *, filled_cc: Decimal, plug_well_cc: Decimal) -> Compression:
    """What a burette reading on an engine of this family comes to. Nothing is saved."""
    return burette_compression(
        bore_mm=float(family.bore_mm),
        stroke_mm=float(family.stroke_mm),
        filled_cc=float(filled_cc),
        plug_well_cc=float(plug_well_cc),
        exhaust_mm=_number(family.exhaust_mm),
    )


def limits_of(policy: ShopPolicy, family: EngineFamily) -> ShopLimits:
    """The shop's limits in force, each with who says so."""
    flange = _limit(family.flange_min_mm, "the family's least flange height")
    return ShopLimits(
        exhaust_later_deg=_limit(policy.exhaust_later_limit_deg, policy.exhaust_later_limit_says),
        flange_mm=flange,
        squish_velocity_ms=_limit(policy.velocity_limit_m_s, policy.velocity_limit_says),
        running_gap_mm=_limit(policy.running_gap_limit_mm, policy.running_gap_limit_says),
        trapped_ratio=_limit(policy.trapped_ratio_limit, policy.trapped_ratio_limit_says),
    )


def _limit(value: Decimal | None, says: str) -> Limit | None:
    return None if value is None else Limit(float(value), says or "shop setting")


def effects_for(
    family: EngineFamily,
    *,
    policy: ShopPolicy,
    plan: Mapping[str, Any],
    floor_mm: float,
    flange_mm: float | None,
) -> EngineEffects:
    """Before and after the cut and gasket of this plan (numerics/round_plan.py).

    Raises BadInput where the geometry cannot bear it.
    """
    return effects_of_cut(
        geometry_of(family, flange_mm=flange_mm),
        cut_mm=plan["depth_mm"],
        gasket_change_mm=plan["gasket_found_mm"] - plan["gasket_next_mm"],
        limits=limits_of(policy, family),
        squish_mm=plan["as_found_height_mm"],
        tightest_mm=plan["as_found_tightest_mm"],
        floor_mm=floor_mm,
    )


def effects_to_keep(family: EngineFamily, **told: Any) -> dict[str, Any]:
    """The effects as plain values to store with a plan, or the sentence saying why there are none.

    A geometry that cannot be summed must not stop a cut that the readings themselves allow.
    """
    try:
        return asdict(effects_for(family, **told))
    except BadInput as refusal:
        return {"refused": str(refusal)}
