"""Lists in pages that stay right while rows are added: the cursor holds the last row's number."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache
from typing import Any, TypeVar

from django.db.models import Model, QuerySet
from drf_spectacular.utils import inline_serializer
from rest_framework import serializers
from rest_framework.exceptions import NotFound
from rest_framework.pagination import Cursor, CursorPagination
from rest_framework.request import Request
from rest_framework.response import Response

from api.answers import Out
from api.errors import BadCursor
from api.fields import LARGEST_NUMBER

M = TypeVar("M", bound=Model)

ROWS = 50


class _ByNumber(CursorPagination):
    """Pages in the order of the rows' numbers; `limit` was checked by Query."""

    page_size_query_param = "limit"
    page_size = ROWS
    max_page_size = 200

    def decode_cursor(self, request: Request) -> Cursor | None:
        try:
            cursor = super().decode_cursor(request)
        except NotFound as error:
            raise BadCursor() from error
        position = str((cursor and cursor.position) or 0)
        is_short = len(position) <= len(str(LARGEST_NUMBER))
        if not (is_short and position.isdecimal() and int(position) <= LARGEST_NUMBER):
            raise BadCursor()
        return cursor


def page(
    request: Request,
    rows: QuerySet[M],
    show: Callable[[Sequence[M]], Any],
    *,
    newest_first: bool = True,
) -> Response:
    """One page of `rows`, each shown, with the addresses of the next page and the one before."""
    pages = _ByNumber()
    pages.ordering = "-pk" if newest_first else "pk"
    chosen = pages.paginate_queryset(rows, request)
    assert chosen is not None
    return pages.get_paginated_response(show(chosen))


@cache
def page_of(row: type[Out]) -> serializers.Serializer[Any]:
    """The form of a page, for the API's description."""
    return inline_serializer(
        f"{row.__name__.removesuffix('Out')}Page",
        {
            "next": serializers.URLField(allow_null=True),
            "previous": serializers.URLField(allow_null=True),
            "results": row(many=True),
        },
    )
