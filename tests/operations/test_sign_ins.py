"""Failed sign-ins are counted by name in the database, for a quarter of an hour."""

from __future__ import annotations

from datetime import timedelta

import pytest

from qc.models import FailedSignIns
from qc.operations.sign_ins import (
    MOST_FAILURES,
    WITHIN,
    count_failure,
    forget_failures,
    is_held_back,
)
from tests.make import NOON

pytestmark = pytest.mark.django_db


def fail(times: int, *, name: str = "oskar") -> None:
    for n in range(times):
        count_failure(name, at=NOON + timedelta(seconds=n))


def test_a_name_is_held_back_from_the_tenth_failure_on() -> None:
    fail(MOST_FAILURES - 1)
    assert not is_held_back("oskar", at=NOON + timedelta(minutes=1))
    count_failure(" OSKAR ", at=NOON + timedelta(minutes=1))
    assert is_held_back("oskar", at=NOON + timedelta(minutes=1))
    assert not is_held_back("lena", at=NOON + timedelta(minutes=1))
    forget_failures("Oskar")
    assert not is_held_back("oskar", at=NOON + timedelta(minutes=1))


def test_the_quarter_of_an_hour_runs_from_the_first_failure() -> None:
    fail(MOST_FAILURES)
    assert is_held_back("oskar", at=NOON + WITHIN - timedelta(seconds=1))
    assert not is_held_back("oskar", at=NOON + WITHIN)
    count_failure("oskar", at=NOON + WITHIN)
    assert FailedSignIns.objects.get().failures == 1


def test_old_series_of_any_name_are_dropped_and_names_are_kept_as_hashes() -> None:
    fail(1, name="somebody")
    count_failure("oskar", at=NOON + 2 * WITHIN)
    kept = FailedSignIns.objects.get()
    assert len(kept.name_hash) == 64
    assert "oskar" not in kept.name_hash
