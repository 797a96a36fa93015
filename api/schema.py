"""The API's description of itself (OpenAPI 3.1), from what each endpoint's class declares."""

from __future__ import annotations

import re
from typing import Any

from drf_spectacular.extensions import (
    OpenApiAuthenticationExtension,
    OpenApiSerializerExtension,
)
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.utils import OpenApiParameter

from api.bodies import NoBody
from api.errors import CONTENT_TYPE
from api.paging import page_of
from api.retry import KEY, REPLAYED
from api.view import ShopView

IF_MATCH = OpenApiParameter(
    "If-Match",
    str,
    OpenApiParameter.HEADER,
    required=True,
    description='ETag of the version this change was made from, such as "7"; * for any.',
)
IF_NONE_MATCH = OpenApiParameter(
    "If-None-Match",
    str,
    OpenApiParameter.HEADER,
    description="ETag of a kept copy: 304 says that it still holds.",
)
IDEMPOTENCY_KEY = OpenApiParameter(
    KEY,
    str,
    OpenApiParameter.HEADER,
    description=f"1 to 200 visible characters, new for each write. The same key with the same "
    f"request gets the first answer again, with {REPLAYED}: true.",
)
PROBLEM: dict[str, Any] = {
    "type": "object",
    "description": "RFC 9457. Branch on `code`; `detail` is for people.",
    "properties": {
        "type": {"type": "string", "format": "uri"},
        "title": {"type": "string"},
        "status": {"type": "integer"},
        "detail": {"type": "string"},
        "code": {"type": "string"},
        "fields": {
            "type": "array",
            "items": {
                "type": "object",
                "properties": {
                    "name": {"type": "string", "description": "Path in the body, with points."},
                    "code": {"type": "string"},
                    "detail": {"type": "string"},
                },
                "required": ["name", "code", "detail"],
            },
        },
    },
    "required": ["type", "title", "status", "detail", "code", "fields"],
}
SAYS = {
    "400": "The request cannot be read: broken JSON, a bad header or a bad cursor.",
    "401": "No bench token, or not one of this shop's.",
    "403": "Not for this role.",
    "404": "No such thing, or it is not yours to see.",
    "406": "The answer is JSON and nothing else.",
    "409": "The state of the shop stands in the way.",
    "412": "Someone else changed it since: read it again.",
    "415": "Send application/json.",
    "422": "The input is refused; `fields` names what is at fault.",
    "428": "If-Match is missing.",
}


class BenchTokenScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    target_class = "api.auth.BenchTokenAuthentication"
    name = "benchToken"

    def get_security_definition(self, auto_schema: AutoSchema) -> dict[str, Any]:
        return {"type": "http", "scheme": "bearer", "description": "A bench token, squish_…"}


class BodyForm(OpenApiSerializerExtension):  # type: ignore[no-untyped-call]
    """Says that a body takes no other fields than those it names."""

    target_class = "api.bodies.Body"
    match_subclasses = True

    def map_serializer(self, auto_schema: AutoSchema, direction: Any) -> dict[str, Any]:
        form = auto_schema._map_serializer(  # type: ignore[no-untyped-call]
            self.target, direction, bypass_extensions=True
        )
        return {**form, "additionalProperties": False}


class ShopSchema(AutoSchema):
    """Reads `body`, `answer`, `row`, `filters`, `creates` and `versioned` of a ShopView."""

    @property
    def endpoint(self) -> ShopView:
        assert isinstance(self.view, ShopView)
        return self.view

    def get_request_serializer(self) -> Any:
        return self.endpoint.body

    def get_response_serializers(self) -> Any:
        if self.method == "GET" and self.endpoint.row is not None:
            return page_of(self.endpoint.row)
        if self.method == "POST" and self.endpoint.creates:
            return {201: self.endpoint.answer}
        return self.endpoint.answer

    def get_override_parameters(self) -> list[Any]:
        if self.method == "GET":
            if self.endpoint.filters is not NoBody:
                return [self.endpoint.filters]
            return [IF_NONE_MATCH] if self.endpoint.versioned else []
        return [
            header
            for mark, header in (("happens_once", IDEMPOTENCY_KEY), ("needs_version", IF_MATCH))
            if self._marked(mark)
        ]

    def get_operation_id(self) -> str:
        """Such as getJobs, postJobsAsFound: the method and the words of the path."""
        parts = [part for part in self.path.split("/")[3:] if "{" not in part]
        words = re.split("[-_]", "-".join(parts))
        ending = "One" if self.path.endswith("}") else ""
        return self.method.lower() + "".join(word.capitalize() for word in words) + ending

    def _marked(self, mark: str) -> bool:
        return hasattr(getattr(self.endpoint, self.method.lower()), mark)


def add_problems(result: dict[str, Any], **unused: Any) -> Any:
    """Say at every operation which problems it can answer with."""
    result["components"]["schemas"]["Problem"] = PROBLEM
    content = {CONTENT_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}}
    for path, operations in result["paths"].items():
        for method, operation in operations.items():
            for status in _statuses(path, method, operation):
                operation["responses"][status] = {
                    "description": SAYS[status],
                    "content": content,
                }
    return _without_marks(result)


def _without_marks(node: Any) -> Any:
    """Without the numbers by which the generator tells lists of choices apart."""
    if isinstance(node, dict):
        return {k: _without_marks(v) for k, v in node.items() if k != "x-spec-enum-id"}
    return [_without_marks(one) for one in node] if isinstance(node, list) else node


def _statuses(path: str, method: str, operation: dict[str, Any]) -> list[str]:
    statuses = {"401", "406"}
    parameters = operation.get("parameters", [])
    if "{" in path:
        statuses.add("404")
    if any(one["in"] == "query" for one in parameters):
        statuses |= {"400", "422"}
    if any(one["name"] == IF_NONE_MATCH.name for one in parameters):
        statuses.add("400")
    if method != "get":
        statuses |= {"400", "403", "409", "415", "422"}
    if any(one["name"] == IF_MATCH.name for one in parameters):
        statuses |= {"412", "428"}
    return sorted(statuses)
