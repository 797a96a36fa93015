"""Is the service well: the database answers, its work gets done, and a worker is alive."""

from __future__ import annotations

from datetime import datetime

from django.db import DatabaseError
from django.http import HttpRequest, JsonResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from qc.lookups.pages.work import WorkState, work_state

DEGRADED = "degraded"
WELL_ENOUGH = ("ok", DEGRADED)


@require_safe
def health(request: HttpRequest) -> JsonResponse:
    """200 when well, 503 when not. Ages are in seconds, null where there is nothing to age.

    "degraded" answers 200: work was given up and somebody must look, but the service serves.
    """
    try:
        state = work_state(now=timezone.now())
    except DatabaseError:
        return JsonResponse({"status": "the database does not answer"}, status=503)
    status = judge(state)
    facts = {
        "status": status,
        "oldest_open_work_s": _age(state, state.asked_at),
        "worker_heard_s": _age(state, state.heard_at),
        "work_given_up": state.given_up_count,
    }
    return JsonResponse(facts, status=200 if status in WELL_ENOUGH else 503)


def judge(state: WorkState) -> str:
    """ "ok", "degraded", or the first thing that is wrong in words."""
    if state.heard_at is None or state.is_silent:
        return "no worker has been heard of"
    if state.is_late:
        return "work has waited too long"
    return DEGRADED if state.given_up_count else "ok"


def _age(state: WorkState, at: datetime | None) -> float | None:
    return None if at is None else round((state.now - at).total_seconds(), 1)
