"""Answers to what no view caught: a problem under /api/, a page anywhere else."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse

from api.errors import no_such_address, problem_response
from dashboards.views import errors as pages


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    if for_a_tool(request):
        return problem_response(400, "bad_request", "That request cannot be read.")
    return pages.bad_request(request, exception)


def forbidden(request: HttpRequest, exception: Exception) -> HttpResponse:
    if for_a_tool(request):
        return problem_response(403, "permission_denied", "This token may not do that.")
    return pages.forbidden(request, exception)


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    if for_a_tool(request):
        return no_such_address(request, exception)
    return pages.not_found(request, exception)


def server_error(request: HttpRequest) -> HttpResponse:
    if for_a_tool(request):
        return problem_response(
            500,
            "server_error",
            "Something broke on our side. Ask for the record before you send it again.",
        )
    return pages.server_error(request)


def for_a_tool(request: HttpRequest) -> bool:
    return request.path.startswith("/api/")
