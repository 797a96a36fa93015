"""What a page asks of the database, so that a list of thirty costs what a list of three does."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any
from unittest.mock import patch

from django.db import connection
from django.db.models.sql import compiler
from django.test import Client
from django.test.utils import CaptureQueriesContext

compiler_rows = compiler.cursor_iter


def queries_of(client: Client, address: str) -> int:
    with CaptureQueriesContext(connection) as caught:
        answer = client.get(address)
    assert answer.status_code == 200, answer.text
    return len(caught)


def cost_of(client: Client, address: str) -> tuple[int, int]:
    """Queries, and the rows that the database handed over for them."""
    read = 0

    def counted(*how: Any) -> Iterator[Sequence[Any]]:
        nonlocal read
        for rows in compiler_rows(*how):
            read += len(rows)
            yield rows

    with patch.object(compiler, "cursor_iter", counted):
        queries = queries_of(client, address)
    return queries, read
