"""A bench tool as the tests play one: a token, JSON in, JSON out."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from django.http import HttpResponse
from django.test import Client

from qc.actor import Actor
from qc.models import Role
from qc.operations.people import make_token
from tests.make import NOON

Json = Any


class Bench:
    """Every call answers Django's response, with what it holds as `json`."""

    def __init__(self, key: str | None) -> None:
        self.client = Client()
        self.identity = {} if key is None else {"Authorization": f"Bearer {key}"}

    @classmethod
    def of(cls, actor: Actor, *, role: Role | None = None) -> Bench:
        _, key = make_token(
            person=actor.person, name="Bench", role=role or actor.role, by=actor, at=NOON
        )
        return cls(key)

    def get(self, path: str, *, headers: Mapping[str, str] | None = None) -> Any:
        return self.send("GET", path, headers=headers)

    def post(self, path: str, body: Json = None, *, match: object = None, key: str = "") -> Any:
        return self.send("POST", path, body, headers=_headers(match, key))

    def patch(self, path: str, body: Json = None, *, match: object = None, key: str = "") -> Any:
        return self.send("PATCH", path, body, headers=_headers(match, key))

    def send(
        self,
        method: str,
        path: str,
        body: Json = None,
        *,
        headers: Mapping[str, str] | None = None,
        text: str | bytes | None = None,
    ) -> Any:
        """`text` is sent as it stands, in place of a body to be written as JSON."""
        if text is None:
            text = "" if body is None else json.dumps(body)
        sent = {**self.identity, **(headers or {})}
        response = self.client.generic(
            method, f"/api/v1/{path}", text, content_type="application/json", headers=sent
        )
        return with_json(response)


def with_json(response: HttpResponse) -> Any:
    is_json = response.headers.get("Content-Type", "").endswith("json")
    response.json = json.loads(response.content) if is_json else None  # type: ignore[attr-defined]
    return response


def _headers(match: object, key: str) -> dict[str, str]:
    headers = {}
    if match is not None:
        headers["If-Match"] = str(match)
    if key:
        headers["Idempotency-Key"] = key
    return headers


def mm(value: str) -> dict[str, str]:
    return {"value": value, "unit": "mm"}


def gaps(values: Mapping[int, str], unit: str = "mm", **more: int) -> list[dict[str, Json]]:
    return [
        {"position_deg": at, "length": {"value": value, "unit": unit}, **more}
        for at, value in values.items()
    ]
