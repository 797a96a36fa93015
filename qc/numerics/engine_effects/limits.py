"""Limits a shop sets for what a cut may do to an engine, and published figures to set them by.

Published figures disagree, so none is a default: a shop enters its own, never looser than the
maker's, and each limit carries the name of whoever says so.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Limit:
    """A figure and who says so ("the maker", "shop setting of 3 May", a book)."""

    value: float
    says: str


@dataclass(frozen=True)
class ShopLimits:
    """None means not set: that effect is shown and not judged.

    exhaust_later_deg: most the exhaust may open later. flange_mm: least flange left.
    squish_velocity_ms: greatest peak at the loaded speed. running_gap_mm: least gap at speed.
    trapped_ratio: greatest trapped compression ratio.
    """

    exhaust_later_deg: Limit | None = None
    flange_mm: Limit | None = None
    squish_velocity_ms: Limit | None = None
    running_gap_mm: Limit | None = None
    trapped_ratio: Limit | None = None


@dataclass(frozen=True)
class PublishedRange:
    """What one publication gives for one quantity; None where it gives no such end."""

    quantity: str
    lowest: float | None
    highest: float | None
    says: str


_JENNINGS = "G. Jennings (quoted on solex-competition.net)"
PUBLISHED = (
    PublishedRange("squish_velocity_ms", 15, 20, "G. P. Blair (quoted on dragonfly75.com)"),
    PublishedRange("squish_velocity_ms", 15, 30, "others, in the same article (dragonfly75.com)"),
    PublishedRange("squish_velocity_ms", 20, 30, "scooters (scootering.com)"),
    PublishedRange("trapped_ratio", None, 8.5, f"road engines: {_JENNINGS}"),
    PublishedRange("trapped_ratio", None, 9.5, f"motocross engines: {_JENNINGS}"),
    PublishedRange("squish_mm", 0.43, 0.64, "saws: one builder's habit (opeforum.com)"),
    PublishedRange("squish_mm", 0.4, 1.5, f"small engines: {_JENNINGS}"),
    PublishedRange("squish_mm", 1.1, 1.5, f"large engines: {_JENNINGS}"),
    PublishedRange("squish_mm", 0.8, None, "liquid-cooled road scooters (scootershack.co.uk)"),
    PublishedRange("squish_mm", 1.0, None, "air-cooled road scooters (scootershack.co.uk)"),
    PublishedRange("squish_mm", 0.8, 1.0, "production engines (reichtuning.de)"),
    PublishedRange("squish_mm", 0.3, None, "racing engines (reichtuning.de)"),
)
