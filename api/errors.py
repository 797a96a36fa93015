"""Every refusal as RFC 9457 problem+json: type, title, status, detail, code and fields.

Bench tools branch on `code`, which is qc.errors' own or one of those below; people read `detail`.
`fields` names each input at fault by its path in the body ("readings.2.length.value").

A rule that a value can never satisfy is 422, as is anything that other input would mend (another
gauge, a reason, `"confirm": true`). 409 says the state of the shop stands in the way; 412 that
someone else was first; 428 that If-Match is missing.
"""

from __future__ import annotations

import logging
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.core.exceptions import PermissionDenied, RequestDataTooBig, SuspiciousOperation
from django.core.signals import got_request_exception
from django.db import OperationalError
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from rest_framework import exceptions
from rest_framework.response import Response

from qc.errors import (
    AlreadyThere,
    AsFoundNeededAgain,
    ChangedMeanwhile,
    NoResultToTake,
    NotAllowed,
    NothingToVoid,
    NotItsTurn,
    NotThere,
    ShopError,
    StepMissing,
    StudyClosed,
    WrongState,
)

log = logging.getLogger(__name__)

CONTENT_TYPE = "application/problem+json"
STATUS: dict[type[ShopError], int] = {
    NotAllowed: 403,
    NotThere: 404,
    AlreadyThere: 409,
    AsFoundNeededAgain: 409,
    NoResultToTake: 409,
    NothingToVoid: 409,
    NotItsTurn: 409,
    StepMissing: 409,
    StudyClosed: 409,
    WrongState: 409,
    ChangedMeanwhile: 412,
    ShopError: 422,
}
WHOLE_BODY = "body"
POSITION_ON_A_FORM = re.compile(r"^at_[\d.]+$")


class PreconditionRequired(exceptions.APIException):
    status_code = 428
    default_code = "precondition_required"
    default_detail = (
        "Say which version you saw: send If-Match with the ETag of your last answer, or * to "
        "change it whatever its version."
    )


class BadHeader(exceptions.APIException):
    status_code = 400
    default_code = "bad_header"


class KeyReused(exceptions.APIException):
    status_code = 422
    default_code = "idempotency_key_reused"
    default_detail = (
        "This Idempotency-Key came earlier with another request. Nothing was saved: send a new "
        "key with a new request, the same key only to repeat one."
    )


class BadCursor(exceptions.APIException):
    status_code = 400
    default_code = "bad_cursor"
    default_detail = 'That cursor is not one of ours. Follow the "next" address as it was given.'


@dataclass(frozen=True)
class FieldProblem:
    name: str
    code: str
    detail: str


@dataclass(frozen=True)
class Problem:
    status: int
    code: str
    detail: str
    fields: tuple[FieldProblem, ...] = ()
    headers: Mapping[str, str] = field(default_factory=dict)

    def as_json(self) -> dict[str, Any]:
        return {
            "type": f"urn:squish-ledger:problem:{self.code}",
            "title": self.code.replace("_", " ").capitalize(),
            "status": self.status,
            "detail": self.detail,
            "code": self.code,
            "fields": [vars(one) for one in self.fields],
        }


def problem_for(error: Exception, context: Mapping[str, Any]) -> Response:
    """The framework's EXCEPTION_HANDLER. What nobody foresaw is logged with its traceback."""
    problem = _problem(error)
    if problem.status >= 500:
        log.error("%s at %s", problem.code, context["request"].path, exc_info=error)
        got_request_exception.send(sender=problem_for, request=context["request"]._request)
    return Response(
        problem.as_json(),
        status=problem.status,
        headers=dict(problem.headers),
        content_type=CONTENT_TYPE,
    )


def problem_response(status: int, code: str, detail: str) -> HttpResponse:
    """The same form for what goes wrong outside the framework's views."""
    problem = Problem(status, code, detail)
    return JsonResponse(problem.as_json(), status=status, content_type=CONTENT_TYPE)


def no_such_address(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return problem_response(
        404, "not_found", "There is no such address. /api/schema lists the ones there are."
    )


def _problem(error: Exception) -> Problem:
    match error:
        case ShopError():
            return _of_the_shop(error)
        case exceptions.ValidationError():
            return _of_the_input(error)
        case Http404():
            return _of_the_framework(exceptions.NotFound())
        case PermissionDenied():
            return _of_the_framework(exceptions.PermissionDenied())
        case exceptions.APIException():
            return _of_the_framework(error)
        case RequestDataTooBig():
            return Problem(413, "too_large", "The body is too large. Send it in parts.")
        case SuspiciousOperation():
            return Problem(400, "bad_request", "That request cannot be read.")
        case OperationalError():
            return Problem(
                503,
                "busy",
                "The database did not answer in time. Nothing was saved: send the same again.",
                headers={"Retry-After": "1"},
            )
    return Problem(
        500,
        "server_error",
        "Something broke on our side and nothing of this request was saved. Earlier records are "
        "untouched. Tell whoever looks after this service.",
    )


def _of_the_shop(error: ShopError) -> Problem:
    status = next(STATUS[kind] for kind in type(error).__mro__ if kind in STATUS)
    names = dict.fromkeys(_name_here(name) for name in error.fields)
    fields = tuple(FieldProblem(name, error.code, str(error)) for name in names)
    return Problem(status, error.code, str(error), fields)


def _name_here(name: str) -> str:
    """As the body calls it: a missing position has no path, and a length carries its unit."""
    return "readings" if POSITION_ON_A_FORM.match(name) else name.removesuffix("_mm")


def _of_the_input(error: exceptions.ValidationError) -> Problem:
    fields = tuple(_field_problems(error.detail, ()))
    codes = {one.code for one in fields}
    return Problem(
        422,
        codes.pop() if len(codes) == 1 else "invalid",
        " ".join(f"{one.name}: {one.detail}" for one in fields[:3]),
        fields,
    )


def _field_problems(detail: Any, path: tuple[str, ...]) -> Iterator[FieldProblem]:
    if isinstance(detail, Mapping):
        for name, inner in detail.items():
            here = () if name == "non_field_errors" else (str(name),)
            yield from _field_problems(inner, path + here)
    elif isinstance(detail, list):
        for number, inner in enumerate(detail):
            here = (str(number),) if isinstance(inner, Mapping) else ()
            yield from _field_problems(inner, path + here)
    else:
        yield FieldProblem(".".join(path) or WHOLE_BODY, detail.code, str(detail))


def _of_the_framework(error: exceptions.APIException) -> Problem:
    headers = {}
    if challenge := getattr(error, "auth_header", None):
        headers["WWW-Authenticate"] = challenge
    if wait := getattr(error, "wait", None):
        headers["Retry-After"] = f"{wait:.0f}"
    return Problem(error.status_code, str(error.get_codes()), str(error.detail), headers=headers)
