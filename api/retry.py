"""Writes that may be sent twice and happen once: the Idempotency-Key header.

The key is optional and honoured on every write. Its scope is the token that sent it. The answer
is kept in the transaction of the write, so either both are there or neither is. Only answers to
writes that happened are kept: a refusal changed nothing, so the same key may be sent again once
its cause is mended, and no 409, 412, 428 or 5xx is ever played back.

Of two requests with one key at the same time, the second waits at the unique (token, key) until
the first has committed or given up.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable
from datetime import datetime
from functools import wraps
from typing import Any

from django.db import IntegrityError, transaction
from django.http import HttpResponse
from django.utils import timezone
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from api.errors import BadHeader, KeyReused
from api.models import IdempotentReply

KEY = "Idempotency-Key"
REPLAYED = "Idempotency-Replayed"
READABLE = re.compile(r"[\x21-\x7e]{1,200}")
KEPT_HEADERS = ("ETag", "Location")


def once(handler: Callable[..., Response]) -> Callable[..., HttpResponse]:
    """Run a view's handler and keep its answer in one transaction, or play back the kept one."""

    @wraps(handler)
    def answer(view: Any, request: Request, **address: Any) -> HttpResponse:
        key = _key_of(request)
        with transaction.atomic():
            if key is None:
                return handler(view, request, **address)
            asked = IdempotentReply(
                token=view.by.token,
                key=key,
                request_hash=_hash_of(request),
                at=timezone.now(),
            )
            if not _is_new(asked):
                return _played_back(asked)
            response = handler(view, request, **address)
            _keep(asked, response)
            return response

    answer.happens_once = True  # type: ignore[attr-defined]
    return answer


def forget_before(at: datetime) -> int:
    """Drop the answers kept before `at`; how many. A retry that late would be a new write."""
    dropped, _ = IdempotentReply.objects.filter(at__lt=at).delete()
    return dropped


def _key_of(request: Request) -> str | None:
    key = request.headers.get(KEY)
    if key is not None and not READABLE.fullmatch(key):
        raise BadHeader(f"{KEY} is 1 to 200 visible characters without spaces, such as a UUID.")
    return key


def _hash_of(request: Request) -> str:
    told = f"{request.method} {request.path}\n".encode() + request._request.body
    return hashlib.sha256(told).hexdigest()


def _is_new(asked: IdempotentReply) -> bool:
    try:
        with transaction.atomic():
            asked.save(force_insert=True)
    except IntegrityError:
        return False
    return True


def _played_back(asked: IdempotentReply) -> HttpResponse:
    kept = IdempotentReply.objects.get(token=asked.token, key=asked.key)
    if kept.request_hash != asked.request_hash:
        raise KeyReused()
    return HttpResponse(
        kept.body,
        status=kept.status,
        content_type="application/json",
        headers={**kept.headers, REPLAYED: "true"},
    )


def _keep(asked: IdempotentReply, response: Response) -> None:
    asked.status = response.status_code
    asked.body = JSONRenderer().render(response.data).decode()
    asked.headers = {name: response[name] for name in KEPT_HEADERS if name in response}
    asked.save(update_fields=["status", "body", "headers"])
