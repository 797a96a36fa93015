"""Fixtures that were re-indicated at the lathe, as reported, and wait for a lead's word."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import QuerySet

from qc.lookups.flags.lines import SuspectLine
from qc.models import Reindication


def waiting() -> QuerySet[Reindication]:
    """Of fixtures in use, oldest first."""
    found = Reindication.objects.filter(answered_at=None, fixture__retired_at=None)
    return found.select_related("fixture", "by", "job")


def waiting_on(suspects: Iterable[SuspectLine]) -> list[Reindication]:
    """Of the fixtures among a flag's suspects."""
    fixtures = [one.key for one in suspects if one.kind == "fixture"]
    return list(waiting().filter(fixture__in=fixtures)) if fixtures else []
