"""The one way a service gets written, with all that follows from it: flags, charts, the watch."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from qc.actor import Actor
from qc.models import CauseFound, ServiceEvent
from qc.operations import journal
from qc.operations.flag_ends import end_by_service
from qc.outbox import ask


def put_down(
    event: ServiceEvent,
    *,
    by: Actor,
    at: datetime,
    found: CauseFound,
    told: Mapping[str, object] | None = None,
) -> ServiceEvent:
    """Save a service, journal it, end the flags it ends, and start its charts afresh.

    by, at: who puts it on record, and when; the event itself says who did it and when. found: what
    it says of the open flags that suspect what was serviced. told: what the journal keeps beside
    what was found and left. In the caller's transaction.
    """
    event.tells_later = found == CauseFound.TO_BE_SEEN
    event.save()
    kind, key = event.about
    journal.note(
        by,
        f"service.{event.kind}",
        subject=event.subject,
        at=at,
        after={"as_found_mm": event.as_found_mm, "as_left_mm": event.as_left_mm, **(told or {})},
        why=event.note,
    )
    end_by_service(event, found=found, by=by, at=at)
    ask("qc.follow_restart", at=at, kind=kind, key=key, since=event.at.isoformat())
    return event
