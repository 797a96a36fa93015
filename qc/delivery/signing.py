"""Signatures of webhooks by the Standard Webhooks specification, 1.0.0, its symmetric scheme.

https://www.standardwebhooks.com: HMAC-SHA256 over id, timestamp and raw body with full stops
between, in base64 after "v1,"; the secret is base64 after "whsec_". The specification asks for 24
to 64 random bytes. An id has no full stop, so that nobody can shift where one part ends.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import secrets

PREFIX = "whsec_"
SECRET_BYTES = 32


def new_secret() -> str:
    return PREFIX + base64.b64encode(secrets.token_bytes(SECRET_BYTES)).decode()


def signature(secret: str, *, message_id: str, timestamp: int, body: bytes) -> str:
    """timestamp: of this try, whole seconds since 1970 UTC. Such as v1,g0hM9SsE+OTP…="""
    key = base64.b64decode(secret.removeprefix(PREFIX), validate=True)
    signed = f"{message_id}.{timestamp}.".encode() + body
    return "v1," + base64.b64encode(hmac.new(key, signed, hashlib.sha256).digest()).decode()


def signed_headers(secret: str, *, message_id: str, timestamp: int, body: bytes) -> dict[str, str]:
    return {
        "webhook-id": message_id,
        "webhook-timestamp": str(timestamp),
        "webhook-signature": signature(
            secret, message_id=message_id, timestamp=timestamp, body=body
        ),
    }
