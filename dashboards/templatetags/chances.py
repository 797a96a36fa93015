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


@register.filter
def one_in(value: float | None) -> str:
    """{{ advice.miss_probability|one_in }}: 1 time in 9, or less than 1 time in 1000."""
    if value is None:
        return ABSENT
    if value < 0.001:
        return "less than 1 time in 1000"
    return f"{value * 10:.0f} times in 10" if value > 0.5 else f"1 time in {1 / value:.0f}"
