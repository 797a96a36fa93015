"""What a person should look at before taking a cut: a list worked out from the numbers.

A limit that is not set is not judged. Compression and ignition are advice only.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal

from qc.numerics.engine_effects.geometry import EngineGeometry
from qc.numerics.engine_effects.limits import ShopLimits
from qc.numerics.engine_effects.ring_ends import windows_at_ring_end
from qc.numerics.engine_effects.state import EngineState
from qc.numerics.results import Said

COMPRESSION_CAUTION = (
    "Higher compression kicks back harder on starting and runs hotter. Use the decompressor, check "
    "the fuel and the ignition lead, and keep within the maker's limits."
)
GAP_CAUTION = (
    "A gap that is safe when cold can close at speed and break the engine. Keep the floor, and "
    "never go below the maker's limit."
)
IGNITION_ADVICE = (
    "Common practice, no source: keep the same lead or take off 1 to 2 degrees, use better fuel "
    "and a colder plug, set it richer, and look again after a short run."
)


@dataclass(frozen=True)
class CutWarning:
    """code: stable word to branch on. caution: what can go wrong. says: whose limit, "" if none.

    facts fill the code's sentence (`qc.sentences.OF_A_CUT`); sentence has it in words, in mm.
    """

    code: str
    kind: Literal["limit", "geometry", "advice"]
    facts: Mapping[str, float | str]
    sentence: str
    caution: str = ""
    says: str = ""


def _warning(
    said: Said,
    kind: Literal["limit", "geometry", "advice"],
    caution: str = "",
    says: str = "",
) -> CutWarning:
    return CutWarning(said.code, kind, said.facts, str(said), caution, says)


@dataclass(frozen=True)
class _Cut:
    engine: EngineGeometry
    before: EngineState
    after: EngineState
    limits: ShopLimits
    spark_density: float | None


def warnings_of_cut(
    engine: EngineGeometry,
    before: EngineState,
    after: EngineState,
    *,
    limits: ShopLimits,
    spark_density: float | None = None,
) -> tuple[CutWarning, ...]:
    """Every warning that applies, in the order of RULES; empty when nothing stands out."""
    cut = _Cut(engine, before, after, limits, spark_density)
    return tuple(found for rule in RULES if (found := rule(cut)) is not None)


def _running_gap_small(cut: _Cut) -> CutWarning | None:
    limit, running = cut.limits.running_gap_mm, cut.after.running
    if limit is None or running is None or running.left_mm >= limit.value:
        return None
    facts = {
        "rpm": cut.engine.rpm_free or 0.0,
        "left_mm": running.left_mm,
        "limit_mm": limit.value,
    }
    return _warning(
        Said("running_gap_small", facts),
        "limit",
        GAP_CAUTION,
        limit.says,
    )


def _flange_under_minimum(cut: _Cut) -> CutWarning | None:
    limit, flange = cut.limits.flange_mm, cut.after.flange_mm
    if limit is None or flange is None or flange >= limit.value:
        return None
    return _warning(
        Said("flange_under_minimum", {"flange_mm": flange, "limit_mm": limit.value}),
        "limit",
        "A thin flange can crack or pull its studs. Take less, or use another cylinder.",
        limit.says,
    )


def _exhaust_later(cut: _Cut) -> CutWarning | None:
    limit = cut.limits.exhaust_later_deg
    opens, opened = cut.after.timing.exhaust_open_deg, cut.before.timing.exhaust_open_deg
    if limit is None or opens is None or opened is None or opens - opened <= limit.value:
        return None
    return _warning(
        Said("exhaust_later", {"later_deg": opens - opened, "limit_deg": limit.value}),
        "limit",
        "Usually costs power at high speed unless the port is raised (common practice, no source).",
        limit.says,
    )


def _squish_velocity_high(cut: _Cut) -> CutWarning | None:
    limit, peak = cut.limits.squish_velocity_ms, cut.after.squish_peak
    if limit is None or peak is None or peak.velocity_ms <= limit.value:
        return None
    facts = {
        "velocity": peak.velocity_ms,
        "rpm": cut.engine.rpm_loaded or 0.0,
        "limit": limit.value,
    }
    return _warning(
        Said("squish_velocity_high", facts),
        "limit",
        "Published limits disagree; this one is the shop's own choice.",
        limit.says,
    )


def _trapped_ratio_high(cut: _Cut) -> CutWarning | None:
    limit, pressed = cut.limits.trapped_ratio, cut.after.compression
    if limit is None or pressed is None or pressed.trapped_ratio is None:
        return None
    if pressed.trapped_ratio <= limit.value:
        return None
    return _warning(
        Said("trapped_ratio_high", {"ratio": pressed.trapped_ratio, "limit": limit.value}),
        "limit",
        COMPRESSION_CAUTION,
        limit.says,
    )


def _transfer_before_exhaust(cut: _Cut) -> CutWarning | None:
    blowdown = cut.after.timing.blowdown_deg
    if blowdown is None or blowdown > 0:
        return None
    return _warning(Said("transfer_before_exhaust", {}), "geometry")


def _ring_end_past_port(cut: _Cut) -> CutWarning | None:
    ring, lowering = cut.engine.ring, cut.after.lowering_mm
    if ring is None:
        return None
    met = windows_at_ring_end(ring, stroke_mm=cut.engine.stroke_mm, lowering_mm=lowering)
    if not met:
        return None
    return _warning(
        Said("ring_end_past_port", {"windows": " and the ".join(met)}),
        "geometry",
        "A ring end that springs into a window breaks the ring and the cylinder.",
    )


def _skirt_uncovers_exhaust(cut: _Cut) -> CutWarning | None:
    floor, skirt = cut.engine.exhaust_floor_mm, cut.engine.skirt_below_crown_mm
    if floor is None or skirt is None or floor + cut.after.lowering_mm <= skirt:
        return None
    return _warning(
        Said("skirt_uncovers_exhaust", {"open_mm": floor + cut.after.lowering_mm - skirt}),
        "geometry",
        "The crankcase would then breathe through the exhaust.",
    )


def _compression_rises(cut: _Cut) -> CutWarning | None:
    before, after = cut.before.compression, cut.after.compression
    if before is None or after is None or after.clearance_cc >= before.clearance_cc:
        return None
    rise = 100 * (before.clearance_cc / after.clearance_cc - 1)
    denser = (
        ""
        if cut.spark_density is None
        else f" The charge at the spark would be {100 * (cut.spark_density - 1):.1f} % denser."
    )
    facts: dict[str, float | str] = {"rise": rise, "denser": denser, "advice": IGNITION_ADVICE}
    return _warning(
        Said("compression_rises", facts),
        "advice",
        COMPRESSION_CAUTION,
    )


RULES: tuple[Callable[[_Cut], CutWarning | None], ...] = (
    _running_gap_small,
    _flange_under_minimum,
    _exhaust_later,
    _squish_velocity_high,
    _trapped_ratio_high,
    _transfer_before_exhaust,
    _ring_end_past_port,
    _skirt_uncovers_exhaust,
    _compression_rises,
)
