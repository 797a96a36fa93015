"""Where the pages of things are, by what kind of thing it is."""

from __future__ import annotations

from django import template

register = template.Library()


@register.filter
def page_of(kind: str) -> str:
    """{% url kind|page_of key %}: the page that tells how a fixture, lathe, ... stands."""
    return "dashboards:fixture" if kind == "fixture" else f"dashboards:shop_{kind}"


@register.filter
def service_page_of(kind: str) -> str:
    """{% url kind|service_page_of key %}: where its service is recorded."""
    return f"dashboards:shop_{kind}_service"
