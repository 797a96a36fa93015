"""Fixtures that were re-indicated at the lathe, as reported, and wait for a lead's word."""

from __future__ import annotations

from django.db.models import QuerySet

from qc.lookups.flags.lines import FlagLine
from qc.models import Reindication


def waiting() -> QuerySet[Reindication]:
    """Of fixtures in use, oldest first."""
    found = Reindication.objects.filter(answered_at=None, fixture__retired_at=None)
    return found.select_related("fixture", "by", "job")


def waiting_on(line: FlagLine) -> list[Reindication]:
    """Of the fixture that a flag is about, and of those among its suspects."""
    things = [(line.kind, line.key), *((one.kind, one.key) for one in line.suspects)]
    fixtures = [key for kind, key in things if kind == "fixture"]
    return list(waiting().filter(fixture__in=fixtures)) if fixtures else []
