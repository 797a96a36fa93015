"""Which windows of the bore wall a ring end runs past, given where the ring ends are pinned."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class PortWindow:
    """One window in the bore wall, mm of travel from the crown's edge at top dead centre, as found.

    name: as it reads after "the" ("left transfer window"). centre_deg, half_width_deg: where it
    lies and how far it reaches each way on the engine's clock.
    """

    name: str
    centre_deg: float
    half_width_deg: float
    upper_mm: float
    lower_mm: float


@dataclass(frozen=True)
class RingData:
    """Where the ring ends meet on the engine's clock, how far below the crown, and the windows."""

    end_clock_deg: float
    below_crown_mm: float
    windows: tuple[PortWindow, ...]


def windows_at_ring_end(ring: RingData, *, stroke_mm: float, lowering_mm: float) -> tuple[str, ...]:
    """Names of the windows that the ring ends pass somewhere in the stroke.

    Lowering moves every window down the piston's travel, so it can take a window out of the ring's
    reach at the bottom or bring one in at the top. Source: geometry.
    """
    highest, lowest = ring.below_crown_mm, ring.below_crown_mm + stroke_mm
    return tuple(
        window.name
        for window in ring.windows
        if window.upper_mm + lowering_mm < lowest
        and window.lower_mm + lowering_mm > highest
        and _apart_deg(window.centre_deg, ring.end_clock_deg) < window.half_width_deg
    )


def _apart_deg(one: float, other: float) -> float:
    return abs((one - other + 180) % 360 - 180)
