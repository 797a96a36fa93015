"""What was written about a job since somebody last looked."""

from __future__ import annotations

from collections.abc import Sequence

from qc.models import Job, JournalEntry


def last_entry(job: Job) -> int:
    """The key of the job's newest entry: what a form remembers as seen."""
    newest = job.journal.order_by("-pk").first()
    return 0 if newest is None else newest.pk


def entries_since(job: Job, seen: int) -> Sequence[JournalEntry]:
    rows = job.journal.filter(pk__gt=seen).select_related("person", "token")
    return list(rows.order_by("pk"))
