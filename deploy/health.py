"""Is the service well: the database answers, its work gets done, and a worker is alive."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.conf import settings
from django.db import DatabaseError
from django.http import HttpRequest, JsonResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from qc import outbox
from qc.models import Heartbeat


@require_safe
def health(request: HttpRequest) -> JsonResponse:
    """200 when well, 503 when not. Ages are in seconds, null where there is nothing to age."""
    now = timezone.now()
    try:
        oldest, heard = outbox.oldest_open_age(now), last_heartbeat_age(now)
        given_up = outbox.dead_items()
    except DatabaseError:
        return JsonResponse({"status": "the database does not answer"}, status=503)
    status = judge(oldest_open=oldest, heard=heard)
    facts = {
        "status": status,
        "oldest_open_work_s": seconds(oldest),
        "worker_heard_s": seconds(heard),
        "work_given_up": given_up,
    }
    return JsonResponse(facts, status=200 if status == "ok" else 503)


def judge(*, oldest_open: timedelta | None, heard: timedelta | None) -> str:
    """ "ok", or the first thing that is wrong in words."""
    if heard is None or heard > timedelta(seconds=settings.WORKER_SILENT_SECONDS):
        return "no worker has been heard of"
    if oldest_open and oldest_open > timedelta(seconds=settings.OUTBOX_OLDEST_SECONDS):
        return "work has waited too long"
    return "ok"


def last_heartbeat_age(now: datetime) -> timedelta | None:
    latest = Heartbeat.objects.order_by("-at").first()
    return None if latest is None else now - latest.at


def seconds(age: timedelta | None) -> float | None:
    return None if age is None else round(age.total_seconds(), 1)
