"""How many queries a page takes, so that a list of thirty costs what a list of three does."""

from __future__ import annotations

from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext


def queries_of(client: Client, address: str) -> int:
    with CaptureQueriesContext(connection) as caught:
        answer = client.get(address)
    assert answer.status_code == 200, answer.text
    return len(caught)
