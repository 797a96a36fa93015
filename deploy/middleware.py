"""Headers on every answer: what a page may load, and what of the tablet it may use."""

from __future__ import annotations

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse

UNUSED = "camera=(), geolocation=(), microphone=(), payment=(), usb=()"


class SecurityHeaders:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response
        parts = settings.CONTENT_SECURITY_POLICY.items()
        self.policy = "; ".join(f"{directive} {sources}" for directive, sources in parts)

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response.headers.setdefault("Content-Security-Policy", self.policy)
        response.headers.setdefault("Permissions-Policy", UNUSED)
        return response
