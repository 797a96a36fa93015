"""Who is asking: the bench token in the Authorization header, and nothing else.

A signed-in browser's session is not accepted here, so no page of another site can make one post.
"""

from __future__ import annotations

from django.utils import timezone
from rest_framework.authentication import BaseAuthentication, get_authorization_header
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request

from qc import access
from qc.actor import Actor
from qc.models import Person

SCHEME = "bearer"


class BenchTokenAuthentication(BaseAuthentication):
    """`Authorization: Bearer squish_…` makes request.auth the Actor, request.user its person."""

    def authenticate(self, request: Request) -> tuple[Person, Actor] | None:
        scheme, _, key = get_authorization_header(request).decode("latin-1").partition(" ")
        if scheme.lower() != SCHEME:
            return None
        actor = access.actor_for_key(key.strip(), at=timezone.now())
        if actor is None:
            raise AuthenticationFailed(
                "That bench token is unknown, revoked, or its owner's account is closed. "
                "Make another on the tokens page."
            )
        return actor.person, actor

    def authenticate_header(self, request: Request) -> str:
        return 'Bearer realm="Squish Ledger"'
