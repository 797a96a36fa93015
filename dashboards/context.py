"""What every template may print without its view saying so."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest
from django.utils.functional import SimpleLazyObject

from dashboards.views.ground import shop_of


def shop(request: HttpRequest) -> dict[str, Any]:
    """The shop's name, the viewer's unit (the shop's before sign-in), and the section marked."""
    user = getattr(request, "user", None)
    own = getattr(user, "unit", None)
    return {
        "shop_name": SimpleLazyObject(lambda: shop_of(request).shop_name),
        "unit": own or SimpleLazyObject(lambda: shop_of(request).unit),
        "section": getattr(request, "section", ""),
    }
