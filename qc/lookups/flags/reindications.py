"""Fixtures that were re-indicated at the lathe, as reported, and wait for a lead's word."""

from __future__ import annotations

from django.db.models import QuerySet

from qc.models import Reindication


def waiting() -> QuerySet[Reindication]:
    """Of fixtures in use, oldest first."""
    found = Reindication.objects.filter(answered_at=None, fixture__retired_at=None)
    return found.select_related("fixture", "by", "job")
