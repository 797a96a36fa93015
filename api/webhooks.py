"""What the shop's webhooks are told, for /api/schema: the body, how it is signed, how to answer."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import OpenApiWebhook

from qc.lookups.flags.webhook_body import TEST
from qc.models import ABOUT, Answer, DriftChannel, FlagState, Happening, Recommended


def _one_of(*values: str) -> dict[str, Any]:
    return {"type": "string", "enum": list(values)}


def _object(properties: dict[str, Any]) -> dict[str, Any]:
    return {"type": "object", "properties": properties, "required": list(properties)}


def _or_null(form: dict[str, Any], says: str) -> dict[str, Any]:
    return {"oneOf": [form, {"type": "null"}], "description": says}


NUMBER = {"type": "number"}
NAMED = {"kind": _one_of(*ABOUT), "id": {"type": "integer"}, "name": {"type": "string"}}
PROBABILITY = _or_null(
    {"type": "number", "minimum": 0, "maximum": 0.99},
    "That it is the one, given that one of the shop's things moved. To three places and at most "
    "0.99: nothing is certain.",
)
SUSPECT = _object(
    {
        **NAMED,
        "id": _or_null({"type": "integer"}, "null of a person, whose name is not told either."),
        "probability": PROBABILITY,
    }
)
FLAG = _object(
    {
        "flag": {"type": "integer"},
        "title": {"type": "string", "description": "In words."},
        "state": _one_of(*FlagState.values),
        "channel": _one_of(*DriftChannel.values),
        "about": _object(NAMED),
        "named": _or_null(SUSPECT, "The one it is, where it is likely enough to be named alone."),
        "suspects": {"type": "array", "items": SUSPECT},
        "probability": PROBABILITY,
        "since": {"type": "string", "format": "date-time"},
        "since_job": {"type": "integer"},
        "size_mm": _or_null(
            NUMBER, "Tilt: side to side at a 20 mm radius. Height: positive when gaps are wider."
        ),
        "direction_deg": _or_null(NUMBER, "Tilt only: wide toward, on the fixture's own clock."),
        "spread_ratio": _or_null(NUMBER, "Spread only: how many times as widely repeats scatter."),
        "recommendation": _or_null(_one_of(*Recommended.values), "What to do about it."),
        "answer": _or_null(_one_of(*Answer.values), "What a lead made of that."),
        "address": {
            "type": "string",
            "description": "Of its page; its path alone, such as /flags/12, where the shop's "
            "SITE_ADDRESS is not set.",
        },
    }
)
BODY = _object(
    {
        "type": _one_of(*Happening.values, TEST),
        "timestamp": {"type": "string", "format": "date-time"},
        "data": {"oneOf": [FLAG, {"type": "object", "maxProperties": 0}]},
    }
)


def _header(name: str, says: str) -> dict[str, Any]:
    return {
        "name": name,
        "in": "header",
        "required": True,
        "schema": {"type": "string"},
        "description": says,
    }


WEBHOOK = OpenApiWebhook(
    name="flag",
    decorator={
        "post": {
            "operationId": "flagWebhook",
            "description": "Something happened to a flag; `data` is empty in a test. Signed by the "
            "Standard Webhooks specification 1.0.0. Never about a person's technique.",
            "parameters": [
                _header("webhook-id", "The same for each try of one message."),
                _header("webhook-timestamp", "Of this try: seconds since 1970, UTC."),
                _header(
                    "webhook-signature",
                    '"v1," and the base64 of HMAC-SHA256 over id, timestamp and raw body with full '
                    'stops between, keyed with the bytes that are base64 after "whsec_".',
                ),
            ],
            "requestBody": {"required": True, "content": {"application/json": {"schema": BODY}}},
            "responses": {
                "2XX": {"description": "Taken. Anything else, a redirect too, is tried again."}
            },
        }
    },
)
