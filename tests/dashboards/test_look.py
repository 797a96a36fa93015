"""Drawings and pages use one set of colours, and every pair of them can be read."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import dashboards
from dashboards.figures import theme

STYLES = Path(dashboards.__file__).parent / "static" / "dashboards"
TOKENS = dict(re.findall(r"--([\w-]+): (#\w{6});", (STYLES / "base.css").read_text()))


def luminance(colour: str) -> float:
    """WCAG 2.2, "relative luminance"."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return sum(w * p for w, p in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, "contrast ratio"."""
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def test_the_contrast_sum_knows_black_on_white():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)


def test_drawings_use_the_pages_colours():
    names = ("SHEET", "INK", "QUIET", "RULE", "BAND", "ACCENT")
    assert {name: getattr(theme, name) for name in names} == {
        name: TOKENS[name.lower()] for name in names
    }


@pytest.mark.parametrize("ground", ["paper", "sheet", "band"])
@pytest.mark.parametrize("text", ["ink", "quiet", "accent", "accent-deep"])
def test_text_reads_on_every_ground(text, ground):
    assert contrast(TOKENS[text], TOKENS[ground]) >= 4.5


def test_a_filled_button_reads():
    assert contrast(TOKENS["sheet"], TOKENS["accent"]) >= 4.5
    assert contrast(TOKENS["sheet"], TOKENS["ink"]) >= 4.5


def test_no_rule_moves_anything_where_motion_is_unwanted():
    for sheet in STYLES.glob("*.css"):
        text = sheet.read_text()
        outside = re.sub(
            r"@media \(prefers-reduced-motion: no-preference\) \{.*?\n\}", "", text, flags=re.S
        )
        assert "transition" not in outside
        assert "animation" not in outside
