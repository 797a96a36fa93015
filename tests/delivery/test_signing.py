"""Webhook signatures against values that we did not work out."""

from __future__ import annotations

import base64
import hashlib
import hmac

import pytest

from qc.delivery import new_secret, signature, signed_headers


@pytest.mark.parametrize(
    ("secret", "message_id", "timestamp", "body", "expected"),
    [
        # The value that the Standard Webhooks project's own libraries are tested with
        # (github.com/standard-webhooks/standard-webhooks, libraries/*).
        (
            "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw",
            "msg_p5jXN8AQM9LWM0D4loKWxJek",
            1614265330,
            b'{"test": 2432232314}',
            "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=",
        ),
        # printf 'msg_notice_1.1772452800.{"type":"flag.raised"}' | openssl dgst -sha256 -mac HMAC
        #   -macopt hexkey:000102…1e1f -binary | base64       (the bytes 0 to 31 as the key)
        (
            "whsec_AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8=",
            "msg_notice_1",
            1772452800,
            b'{"type":"flag.raised"}',
            "v1,JD1TQlqv5vQySiRtTdwEuX/eDwobAB7WxqAvP1ECB0o=",
        ),
    ],
)
def test_a_signature_is_the_specifications(
    secret: str, message_id: str, timestamp: int, body: bytes, expected: str
) -> None:
    told = {"message_id": message_id, "timestamp": timestamp, "body": body}
    assert signature(secret, **told) == expected  # type: ignore[arg-type]
    headers = signed_headers(secret, **told)  # type: ignore[arg-type]
    assert headers["webhook-id"] == message_id
    assert headers["webhook-timestamp"] == str(timestamp)
    changed = {**told, "timestamp": timestamp + 1}
    assert signature(secret, **changed) != expected  # type: ignore[arg-type]


def test_a_secret_is_32_random_bytes_after_the_prefix() -> None:
    secret = new_secret()
    assert secret != new_secret()
    key = base64.b64decode(secret.removeprefix("whsec_"), validate=True)
    assert len(key) == 32
    by_hand = base64.b64encode(hmac.new(key, b"m.1.{}", hashlib.sha256).digest()).decode()
    assert signature(secret, message_id="m", timestamp=1, body=b"{}") == f"v1,{by_hand}"
