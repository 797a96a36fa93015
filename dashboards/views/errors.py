"""The pages for what went wrong: what happened, and what to do about it, in one sentence each."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string

TEMPLATE = "dashboards/problem.html"


def bad_request(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return _bare(
        400, "That request made no sense", "Go back to the page it came from and try again."
    )


def forbidden(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return _page(request, 403, "Not for your role", str(exception or "Ask a lead."))


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return _page(
        request,
        404,
        "Nothing here",
        "There is no such page, or it is not yours to see. Check the number in the address.",
    )


def server_error(request: HttpRequest) -> HttpResponse:
    return _bare(
        500,
        "Something broke on our side",
        "Nothing you recorded earlier is lost. Go back, check whether your last entry is there, "
        "and send it again if it is not. Tell whoever looks after this service.",
    )


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    return _page(
        request,
        403,
        "This page was opened before you signed in",
        "Nothing was saved. Go back: what you typed is still there. Copy it, reload the page, "
        "and send it again.",
    )


def _page(request: HttpRequest, status: int, title: str, sentence: str) -> HttpResponse:
    return render(request, TEMPLATE, {"problem": title, "sentence": sentence}, status=status)


def _bare(status: int, title: str, sentence: str) -> HttpResponse:
    """Without the request: neither session nor database may be trusted to answer."""
    text = render_to_string(TEMPLATE, {"problem": title, "sentence": sentence})
    return HttpResponse(text, status=status)
