"""Who was first: a row's version as its ETag, If-Match on changes, If-None-Match on reads."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from typing import Any, Protocol

from rest_framework.request import Request
from rest_framework.response import Response

from api.errors import BadHeader, PreconditionRequired
from qc.errors import ChangedMeanwhile

TAGS = re.compile(r'\s*(W/)?"([^"]*)"\s*(?:,|$)')


class Versioned(Protocol):
    @property
    def version(self) -> int: ...


@dataclass(frozen=True)
class Match:
    """The versions a request will change; None for any (`*`)."""

    tags: frozenset[str] | None

    def expected(self, row: Versioned) -> int | None:
        """The version to hold the write against, None for any. Raises ChangedMeanwhile.

        The write itself checks again, so that nobody can slip in between.
        """
        if self.tags is None:
            return None
        if str(row.version) not in self.tags:
            seen = ", ".join(sorted(self.tags)) or "none"
            raise ChangedMeanwhile(what=row, seen=seen, now=row.version)
        return row.version


def on_version(handler: Callable[..., Response]) -> Callable[..., Response]:
    """Refuse a change that does not say which version it was made from; the view gets `match`."""

    @wraps(handler)
    def answer(view: Any, request: Request, **address: Any) -> Response:
        given = request.headers.get("If-Match")
        if given is None:
            raise PreconditionRequired()
        # If-Match compares strongly: a weak tag never matches (RFC 9110 section 13.1.1).
        tags = _tags(given, header="If-Match")
        strong = None if tags is None else frozenset(tag for weak, tag in tags if not weak)
        view.match = Match(strong)
        return handler(view, request, **address)

    answer.needs_version = True  # type: ignore[attr-defined]
    return answer


def etag(version: int) -> str:
    return f'"{version}"'


def with_etag(row: Versioned, data: Any, *, status: int = 200, location: str = "") -> Response:
    headers = {"ETag": etag(row.version)}
    if location:
        headers["Location"] = location
    return Response(data, status=status, headers=headers)


def is_unchanged(request: Request, row: Versioned) -> bool:
    """Whether the asker has this version already. Compares weakly, as RFC 9110 13.1.2 asks."""
    given = request.headers.get("If-None-Match")
    if given is None:
        return False
    tags = _tags(given, header="If-None-Match")
    return tags is None or str(row.version) in {tag for _, tag in tags}


def not_modified(row: Versioned) -> Response:
    return Response(status=304, headers={"ETag": etag(row.version)})


def _tags(given: str, *, header: str) -> list[tuple[bool, str]] | None:
    """Each tag and whether it is weak; None for the star."""
    if given.strip() == "*":
        return None
    tags, end = [], 0
    for found in TAGS.finditer(given):
        if found.start() != end:
            break
        tags.append((found[1] is not None, found[2]))
        end = found.end()
    if not tags or end != len(given):
        raise BadHeader(f'{header} is a version in quotes, such as "7", or a star.')
    return tags
