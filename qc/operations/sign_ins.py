"""Failed sign-ins counted by name, so that a password cannot be guessed by trying many.

Counted in the database, so that every server process of the shop counts alike.
"""

from __future__ import annotations

import hashlib
from datetime import datetime, timedelta

from django.db import IntegrityError, transaction
from django.db.models import F

from qc.models import FailedSignIns

MOST_FAILURES = 10
WITHIN = timedelta(minutes=15)


def is_held_back(username: str, *, at: datetime) -> bool:
    """Whether that name has failed too often in the quarter of an hour before `at`."""
    lately = FailedSignIns.objects.filter(name_hash=_hashed(username), since__gt=at - WITHIN)
    return lately.filter(failures__gte=MOST_FAILURES).exists()


def count_failure(username: str, *, at: datetime) -> None:
    """One more failure of a name; the quarter of an hour runs from the first of the series.

    Each step is one statement, so that two failures at once count as two.
    """
    name = FailedSignIns.objects.filter(name_hash=_hashed(username))
    FailedSignIns.objects.filter(since__lte=at - WITHIN).delete()
    if name.update(failures=F("failures") + 1):
        return
    try:
        with transaction.atomic():
            FailedSignIns.objects.create(name_hash=_hashed(username), since=at, failures=1)
    except IntegrityError:  # the other of two first failures came in between
        name.update(failures=F("failures") + 1)


def forget_failures(username: str) -> None:
    FailedSignIns.objects.filter(name_hash=_hashed(username)).delete()


def _hashed(username: str) -> str:
    return hashlib.sha256(username.strip().lower().encode()).hexdigest()
