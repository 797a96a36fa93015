"""How pages print a probability: never as certain."""

from __future__ import annotations

from django import template

from dashboards.figures.lengths import ABSENT, NO_BREAK

register = template.Library()


@register.filter
def chance(value: float | None) -> str:
    """{{ verdict.probability_height|chance }}: 55 %, 97.4 %, over 99.9 % or under 0.1 %."""
    if value is None:
        return ABSENT
    if value > 0.999:
        return f"over 99.9{NO_BREAK}%"
    if value < 0.001:
        return f"under 0.1{NO_BREAK}%"
    places = 0 if 0.1 <= value <= 0.9 else 1
    return f"{value * 100:.{places}f}{NO_BREAK}%"


@register.filter
def p_value(value: float | None) -> str:
    """{{ drift.p|p_value }}: 0.13, 0.0042 or under 0.001; two digits of it."""
    if value is None:
        return ABSENT
    return "under 0.001" if value < 0.001 else f"{value:.2g}"
