"""The engine effects a plan keeps, as rows: before, after, and for each 0.01 mm and each thou.

Reads the stored plan, not the family of today: the rows say what was known when the cut was
planned.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

Stored = Mapping[str, Any]
MM = "mm"  # a length: pages show it in the viewer's unit


@dataclass(frozen=True)
class EffectRow:
    """One effect; `places` is how many decimals mean something. None where nothing is known."""

    name: str
    unit: str
    places: int
    before: float
    after: float
    per_hundredth: float | None
    per_thou: float | None

    @property
    def change(self) -> float:
        return self.after - self.before


@dataclass(frozen=True)
class EngineFigure:
    """One figure that has no before and after: the cut leaves it, or it is of the cut itself."""

    name: str
    unit: str
    places: int
    value: float


@dataclass(frozen=True)
class PortArc:
    """Crank degrees after top dead centre at which a port opens and closes, before and after."""

    port: str
    opens_before_deg: float
    closes_before_deg: float
    opens_after_deg: float
    closes_after_deg: float


@dataclass(frozen=True)
class _Line:
    name: str
    unit: str
    places: int
    path: tuple[str, ...]
    rate: str = ""


@dataclass(frozen=True)
class _Figure:
    """Shown as `times` x (value - less)."""

    name: str
    unit: str
    places: int
    path: tuple[str, ...]
    times: float = 1
    less: float = 0


def _timing(name: str, key: str, *, has_rate: bool = False) -> _Line:
    return _Line(name, "°", 1, ("timing", key), key if has_rate else "")


def _compression(name: str, unit: str, key: str) -> _Line:
    return _Line(name, unit, 2, ("compression", key), key)


LINES = (
    _timing("Exhaust opens, after TDC", "exhaust_open_deg", has_rate=True),
    _timing("Exhaust open for", "exhaust_duration_deg"),
    _timing("Transfer opens, after TDC", "transfer_open_deg", has_rate=True),
    _timing("Transfer open for", "transfer_duration_deg"),
    _timing("Blowdown", "blowdown_deg", has_rate=True),
    _timing("Intake opens, before TDC", "intake_open_btdc_deg", has_rate=True),
    _timing("Intake open for", "intake_duration_deg"),
    _compression("Clearance volume", "cc", "clearance_cc"),
    _compression("Compression, full stroke", ": 1", "geometric_ratio"),
    _compression("Compression, trapped", ": 1", "trapped_ratio"),
    _Line("Squish velocity, peak", "m/s", 1, ("squish_peak", "velocity_ms"), "squish_velocity_ms"),
    _Line("Peak squish, before TDC", "°", 1, ("squish_peak", "btdc_deg")),
    _Line("Held in the squish band", "cc", 2, ("band", "volume_cc")),
    _Line("Tightest gap, cold", MM, 3, ("tightest_mm",)),
    _Line("Gap left at speed", MM, 3, ("running", "left_mm"), "running_gap_mm"),
    _Line("Flange height", MM, 3, ("flange_mm",)),
)
FIGURES = (
    _Figure("Swept volume", "cc", 2, ("swept_cc",)),
    _Figure("Squish band's share of the bore", "%", 1, ("band_area_ratio",), times=100),
    _Figure("Charge at the spark, denser by", "%", 1, ("spark_density_ratio",), times=100, less=1),
    _Figure("Greatest speed, for the figures below", "rpm", 0, ("piston", "rpm")),
    _Figure("Piston speed, mean", "m/s", 1, ("piston", "mean_speed_ms")),
    _Figure("Piston speed, peak", "m/s", 1, ("piston", "peak_speed_ms")),
    _Figure("Fastest at, after TDC", "°", 1, ("piston", "peak_speed_deg")),
    _Figure("Piston acceleration, mean", "m/s²", 0, ("piston", "mean_acceleration_ms2")),
    _Figure("Piston acceleration, peak", "m/s²", 0, ("piston", "peak_acceleration_ms2")),
    _Figure("Peak acceleration, Jennings' inch form", "ft/s²", 0, ("piston", "jennings_fts2")),
    _Figure("Rod stretch", MM, 3, ("before", "running", "rod_stretch_mm")),
    _Figure("Bearing float", MM, 3, ("before", "running", "bearing_radial_mm")),
    _Figure("Piston rock", MM, 3, ("before", "running", "rock_mm")),
    _Figure("Carbon", MM, 3, ("before", "running", "carbon_mm")),
    _Figure("Gap at speed, were the tightest at the floor", MM, 3, ("left_at_floor_mm",)),
)


def effect_rows(effects: Stored) -> list[EffectRow]:
    """Rows for what could be computed, in the order an engine builder reads them."""
    rows = []
    for line in LINES:
        before, after = _at(effects["before"], line.path), _at(effects["after"], line.path)
        if before is None or after is None:
            continue
        rows.append(
            EffectRow(
                name=line.name,
                unit=line.unit,
                places=line.places,
                before=before,
                after=after,
                per_hundredth=effects["per_hundredth"].get(line.rate),
                per_thou=effects["per_thou"].get(line.rate),
            )
        )
    return rows


def engine_figures(effects: Stored) -> list[EngineFigure]:
    """What the plan keeps beside the rows: band, spark, piston motion, and losses of the gap."""
    known = [(line, _at(effects, line.path)) for line in FIGURES]
    return [
        EngineFigure(line.name, line.unit, line.places, line.times * (value - line.less))
        for line, value in known
        if value is not None
    ]


def port_arcs(effects: Stored) -> Sequence[PortArc]:
    """The open arcs of the ports that are known. A port symmetrical about a dead centre closes as
    far from it as it opens."""
    before, after = effects["before"]["timing"], effects["after"]["timing"]
    arcs = []
    for port in ("exhaust", "transfer"):
        opens, then = before[f"{port}_open_deg"], after[f"{port}_open_deg"]
        if opens is not None and then is not None:
            arcs.append(PortArc(port, opens, 360 - opens, then, 360 - then))
    opens, then = before["intake_open_btdc_deg"], after["intake_open_btdc_deg"]
    if opens is not None and then is not None:
        arcs.append(PortArc("intake", 360 - opens, opens, 360 - then, then))
    return arcs


def _at(state: Stored, path: Sequence[str]) -> float | None:
    value: Any = state
    for step in path:
        value = None if value is None else value.get(step)
    return None if value is None else float(value)
