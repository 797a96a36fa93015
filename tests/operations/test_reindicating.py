"""A fixture re-indicated at the lathe: reported by an operator, made a service by a lead."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal

import pytest

from qc.errors import BadInput, LeftOverLimit, NotAllowed, Retired
from qc.lookups.flags.reindications import waiting
from qc.models import Flag, FlagState, JournalEntry, Reindication, Round, ServiceEvent, State
from qc.operations import reindicating, resources
from tests.flagged import make_flag
from tests.make import NOON, Shop, make_job, make_shop

pytestmark = pytest.mark.django_db
DONE = NOON + timedelta(days=3)
LATER = DONE + timedelta(hours=5)


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def round_(shop: Shop) -> Round:
    return make_job(shop, state=State.MEASURED).rounds.get()


def report(shop: Shop, left: str = "0.005", at: datetime = DONE) -> Reindication:
    return reindicating.report(
        fixture=shop.fixture,
        as_found_mm=Decimal("0.08"),
        as_left_mm=Decimal(left),
        note="A burr",
        by=shop.operator,
        at=at,
    )


def test_a_report_changes_nothing_until_a_lead_confirms_it(shop: Shop, round_: Round) -> None:
    flag = make_flag(round_, kind="fixture", key=shop.fixture.pk)
    reported = report(shop)
    flag.refresh_from_db()
    assert flag.is_open
    assert list(waiting()) == [reported]
    with pytest.raises(NotAllowed):
        reindicating.confirm(reported=reported, by=shop.operator, at=LATER)
    event = reindicating.confirm(reported=reported, by=shop.lead, at=LATER)
    assert (event.at, event.by) == (DONE, shop.lead.person)
    assert (event.as_found_mm, event.as_left_mm) == (Decimal("0.08"), Decimal("0.005"))
    assert event.note == "A burr. Done by Oskar"
    flag.refresh_from_db()
    assert (flag.state, flag.service) == (FlagState.CLEARED, event)
    reported.refresh_from_db()
    assert (reported.service, reported.answered_at) == (event, LATER)
    assert not waiting()
    with pytest.raises(BadInput, match="answered that report already"):
        reindicating.confirm(reported=reported, by=shop.lead, at=LATER)


def test_a_flag_raised_since_it_was_done_stays(shop: Shop, round_: Round) -> None:
    flag = make_flag(round_, kind="fixture", key=shop.fixture.pk)
    Flag.objects.filter(pk=flag.pk).update(raised_at=DONE + timedelta(hours=1))
    reindicating.confirm(reported=report(shop), by=shop.lead, at=LATER)
    flag.refresh_from_db()
    assert flag.is_open


def test_one_report_at_a_time_waits(shop: Shop) -> None:
    first = report(shop)
    with pytest.raises(BadInput, match="reported already"):
        report(shop)
    with pytest.raises(NotAllowed):
        reindicating.set_aside(reported=first, by=shop.operator, at=LATER)
    reindicating.set_aside(reported=first, by=shop.lead, at=LATER)
    assert not ServiceEvent.objects.exists()
    assert JournalEntry.objects.filter(action="fixture.reindication_set_aside").exists()
    assert report(shop).pk != first.pk


def test_one_left_over_the_limit_waits_for_a_service_with_a_reason(
    shop: Shop, round_: Round
) -> None:
    make_flag(round_, kind="fixture", key=shop.fixture.pk)
    reported = report(shop, left="0.05")
    with pytest.raises(LeftOverLimit):
        reindicating.confirm(reported=reported, by=shop.lead, at=LATER)
    assert list(waiting()) == [reported]


def test_a_viewer_reports_nothing_and_nobody_of_a_retired_fixture(shop: Shop) -> None:
    with pytest.raises(NotAllowed):
        reindicating.report(fixture=shop.fixture, as_left_mm=Decimal(0), by=shop.viewer, at=DONE)
    report(shop)
    resources.retire(resource=shop.fixture, why="Cracked", by=shop.lead, at=LATER)
    assert not waiting()
    with pytest.raises(Retired):
        report(shop)
