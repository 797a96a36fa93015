"""Flags, services and misses by month, counted by hand, and as each reader may know of them."""

from __future__ import annotations

from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest

from qc.lookups.pages.accuracy import accuracy_page, told_of
from qc.lookups.pages.months_tally import (
    Tally,
    Told,
    spent,
)
from qc.models import DriftChannel, Flag, FlagState, ServiceKind
from qc.operations import resources
from tests.cutting import cut_job
from tests.flagged import make_flag
from tests.make import NOON, Shop

DUBLIN = ZoneInfo("Europe/Dublin")
FIRST = NOON.date().replace(day=1)
NEXT = (FIRST + timedelta(days=40)).replace(day=1)
MONTH = timedelta(days=31)


@pytest.fixture
def months(shop: Shop) -> Shop:
    """A flag on the fixture with a cause found after a month, and one on the operator's technique
    and the gauge. A job misses by height before the flags, one by evenness while both stand open,
    and one by height when only the second does."""
    first = cut_job(shop, "good", learn=False).rounds.get()
    cut_job(shop, "early", height=0.58, at=NOON + timedelta(hours=1), learn=False)
    cut_job(shop, "uneven", side_to_side=0.09, at=NOON + timedelta(days=1), learn=False)
    cut_job(shop, "late", height=0.58, at=NOON + MONTH, learn=False)
    on_fixture = make_flag(first, kind="fixture", key=shop.fixture.pk)
    Flag.objects.filter(pk=on_fixture.pk).update(
        state=FlagState.CAUSE_FOUND, closed_at=NOON + timedelta(days=20)
    )
    person = shop.operator.person.pk
    make_flag(
        first,
        kind="person",
        key=person,
        channel=DriftChannel.HEIGHT,
        suspects=[("person", person, 0.93)],
    )
    for n in range(2):
        resources.record_service(
            subject=shop.edge,
            kind=ServiceKind.EDGE_CHANGED,
            by=shop.lead,
            at=NOON + MONTH + timedelta(days=n),
        )
    return shop


def told(shop: Shop, by: object, **of: object) -> Told:
    page = accuracy_page(**{"lathe": None, "zone": DUBLIN, "now": NOON + MONTH, **of})
    return told_of(page, by, zone=DUBLIN)  # type: ignore[arg-type]


def test_each_month_has_its_flags_services_and_misses(months: Shop) -> None:
    """Flags are raised three hours after NOON, jobs measured two hours after they begin: the early
    job is measured then too, and no flag stood open before it."""
    found = told(months, months.lead)
    assert found.by_month == {
        FIRST: Tally(raised=2, cause_found=1, misses=2, on_flagged=1),
        NEXT: Tally(services=2, minutes=30, misses=1, on_flagged=1),
    }
    assert found.says == (
        "2 flags raised: 1 with a cause found, 1 open or closed without saying. "
        "2 services count as 30 minutes by the shop's settings. "
        "Of 3 jobs that missed, 2 used what an open flag suspected."
    )


def test_a_persons_flag_counts_for_that_person_and_the_leads_alone(months: Shop) -> None:
    assert told(months, months.operator).by_month == told(months, months.lead).by_month
    others = told(months, months.viewer)
    assert others.by_month == {
        FIRST: Tally(raised=1, cause_found=1, misses=2, on_flagged=1),
        NEXT: Tally(services=2, minutes=30, misses=1),
    }
    assert [one.kind for one in others.raised] == ["fixture"]


def test_a_job_is_not_said_to_be_somebodys_by_a_set_that_hides_the_name(months: Shop) -> None:
    """A set of a gauge that nobody used and the operator: the count would tell who it is."""
    Flag.objects.filter(person__isnull=False).update(state=FlagState.WITHDRAWN, closed_at=NOON)
    other = resources.register_lathe(name="Other lathe", by=months.lead, at=NOON)
    make_flag(
        Flag.objects.first().raised_by,  # type: ignore[union-attr]
        kind="lathe",
        key=other.pk,
        channel=DriftChannel.HEIGHT,
        suspects=[("lathe", other.pk, 0.6), ("person", months.operator.person.pk, 0.3)],
    )
    assert told(months, months.lead).whole.on_flagged == 2
    assert told(months, months.viewer).whole.on_flagged == 1
    assert told(months, months.viewer).whole.raised == 2


def test_a_lathe_has_its_own_and_its_edges_services_and_flags(months: Shop) -> None:
    own = told(months, months.lead, lathe=months.lathe).whole
    assert (own.services, own.raised, own.misses, own.on_flagged) == (2, 0, 3, 0)
    other = resources.register_lathe(name="Other lathe", by=months.lead, at=NOON)
    assert told(months, months.lead, lathe=other) == Told()


@pytest.mark.parametrize(
    ("minutes", "words"),
    [(45, "45 minutes"), (120, "2 hours"), (390, "6.5 hours"), (3000, "50 hours")],
)
def test_time_spent_is_told_as_people_do(minutes: int, words: str) -> None:
    assert spent(minutes) == words
