"""What was written about a job since somebody last looked, and about a flag."""

from __future__ import annotations

from collections.abc import Sequence

from django.db.models import QuerySet

from qc.models import Flag, Job, JournalEntry


def last_entry(job: Job) -> int:
    """The key of the job's newest entry: what a form remembers as seen."""
    newest = job.journal.order_by("-pk").first()
    return 0 if newest is None else newest.pk


def entries_since(job: Job, seen: int) -> Sequence[JournalEntry]:
    rows = job.journal.filter(pk__gt=seen).select_related("person", "token")
    return list(rows.order_by("pk"))


def flag_journal(flag: Flag) -> QuerySet[JournalEntry]:
    """Newest first; for those who may know of the flag."""
    rows = JournalEntry.objects.filter(subject=f"Flag {flag.pk}")
    return rows.select_related("person", "token").order_by("-pk")
