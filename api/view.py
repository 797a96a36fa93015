"""What every endpoint is made from."""

from __future__ import annotations

from typing import Any

from rest_framework.request import Request
from rest_framework.views import APIView

from api.answers import Out
from api.bodies import Body, NoBody
from api.versions import Match
from qc.actor import Actor


class ShopView(APIView):
    """An endpoint. Its class says what it takes and gives, which is also what /api/schema tells.

    body: what a write takes. answer: what a write, or a read of one thing, gives. row: what a
    page of a list holds. filters: what may follow the question mark. creates: a POST makes
    something new. versioned: a GET answers with an ETag and heeds If-None-Match. match: the
    request's If-Match, on handlers marked `on_version`.
    """

    body: type[Body] | None = None
    answer: type[Out] | None = None
    row: type[Out] | None = None
    filters: type[Body] = NoBody
    creates = False
    versioned = False
    match: Match

    @property
    def default_response_headers(self) -> dict[str, Any]:
        """A kept copy is asked about each time: its ETag makes that cheap."""
        return {**super().default_response_headers, "Cache-Control": "private, no-cache"}

    @property
    def by(self) -> Actor:
        """Who is asking."""
        actor = self.request.auth
        assert isinstance(actor, Actor)  # nobody gets here without a token
        return actor

    def asked(self, request: Request) -> dict[str, Any]:
        """What follows the question mark, checked."""
        return self.filters.parse(request.query_params.dict())
