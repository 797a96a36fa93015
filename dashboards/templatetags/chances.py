"""How pages print a probability: never as certain."""

from __future__ import annotations

from django import template

from dashboards.figures.lengths import ABSENT, NO_BREAK

register = template.Library()


@register.filter
def chance(value: float | None) -> str:
    """{{ verdict.probability_height|chance }}: 97.4 %, over 99.9 % or under 0.1 %."""
    if value is None:
        return ABSENT
    if value > 0.999:
        return f"over 99.9{NO_BREAK}%"
    if value < 0.001:
        return f"under 0.1{NO_BREAK}%"
    return f"{value * 100:.1f}{NO_BREAK}%"
