"""Where the pages of things are, by what kind of thing it is."""

from __future__ import annotations

from django import template

register = template.Library()


@register.filter
def page_of(kind: str) -> str:
    """{% url kind|page_of key %}: the page that tells how a fixture, lathe, person ... stands."""
    own = {"fixture": "dashboards:fixture", "person": "dashboards:shop_person_technique"}
    return own.get(kind, f"dashboards:shop_{kind}")


@register.filter
def service_page_of(kind: str) -> str:
    """{% url kind|service_page_of key %}: where its service is recorded."""
    return f"dashboards:shop_{kind}_service"
