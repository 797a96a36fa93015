"""What becomes of flags: whom they are told to, what closes them, and what the watch then knows."""

from __future__ import annotations

from datetime import timedelta

import pytest

from qc import access, outbox
from qc.errors import BadInput, NotThere
from qc.lookups.flags import SOMEBODY, flag_line, flags_for
from qc.lookups.today import today_page
from qc.models import DriftChannel, Flag, FlagState, JournalEntry, Round, ServiceKind, State
from qc.operations import flags, resources
from tests.flagged import make_flag
from tests.make import EVEN, FOUND, NOON, Shop, make_job, make_shop

pytestmark = pytest.mark.django_db
LATER = NOON + timedelta(days=3)
FOUND_LEANING = {0: "1.02", 90: "1.06", 180: "1.02", 270: "0.98"}
LEANING = {0: "0.50", 90: "0.54", 180: "0.50", 270: "0.46"}


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def round_(shop: Shop) -> Round:
    return make_job(shop, state=State.MEASURED).rounds.get()


def test_a_flag_on_a_person_is_for_that_person_and_the_leads(shop: Shop, round_: Round) -> None:
    own = make_flag(round_, kind="person", key=shop.operator.person.pk)
    for reader in (shop.lead, shop.operator):
        assert access.flag(own.pk, by=reader) == own
        assert list(flags_for(reader)) == [own]
        assert [one.name for one in today_page(now=NOON, today=NOON.date(), by=reader).flags] == [
            "Oskar"
        ]
    with pytest.raises(NotThere):
        access.flag(own.pk, by=shop.viewer)
    assert list(flags_for(shop.viewer)) == []
    assert today_page(now=NOON, today=NOON.date(), by=shop.viewer).flags == []


def test_a_person_among_the_suspects_is_named_to_that_person_and_the_leads(
    shop: Shop, round_: Round
) -> None:
    tied = [("fixture", shop.fixture.pk, 0.6), ("person", shop.operator.person.pk, 0.38)]
    flag = make_flag(round_, kind="fixture", key=shop.fixture.pk, suspects=tied)
    assert flag_line(flag, shop.lead).title == "Something moved: Plug A or Oskar's technique"
    assert flag_line(flag, shop.operator).title == "Something moved: Plug A or Oskar's technique"
    hidden = flag_line(flag, shop.viewer)
    assert hidden.title == f"Something moved: Plug A or {SOMEBODY}"
    assert [one.key for one in hidden.suspects] == [shop.fixture.pk, None]


def test_one_is_named_alone_from_eighty_percent(shop: Shop, round_: Round) -> None:
    for probability, named in ((0.80, True), (0.79, False)):
        told = [("lathe", shop.lathe.pk, probability), ("gauge", shop.gauge.pk, 0.2)]
        flag = make_flag(
            round_,
            kind="lathe",
            key=shop.lathe.pk,
            channel=DriftChannel.HEIGHT,
            size=0.02,
            suspects=told,
        )
        assert (flag_line(flag, shop.viewer).named is not None) is named
        flag.delete()


def test_closing_closes_every_flag_of_that_resource_and_no_other(shop: Shop, round_: Round) -> None:
    height = make_flag(
        round_, kind="gauge", key=shop.gauge.pk, channel=DriftChannel.HEIGHT, size=0.02
    )
    spread = make_flag(
        round_, kind="gauge", key=shop.gauge.pk, channel=DriftChannel.SPREAD, size=0.9
    )
    other = make_flag(round_, kind="fixture", key=shop.fixture.pk)
    flags.close_flag(
        flag=height, state=FlagState.NONE_FOUND, why="Blocks agree", by=shop.lead, at=LATER
    )
    assert set(Flag.objects.filter(state=FlagState.NONE_FOUND)) == {height, spread}
    other.refresh_from_db()
    assert other.is_open
    with pytest.raises(BadInput, match="closed already"):
        flags.close_flag(flag=spread, state=FlagState.CAUSE_FOUND, why="x", by=shop.lead, at=LATER)


def test_service_of_any_resource_clears_its_flags(shop: Shop, round_: Round) -> None:
    flag = make_flag(
        round_, kind="lathe", key=shop.lathe.pk, channel=DriftChannel.HEIGHT, size=0.02
    )
    resources.record_service(subject=shop.lathe, kind=ServiceKind.REPAIRED, by=shop.lead, at=LATER)
    flag.refresh_from_db()
    assert flag.state == FlagState.CLEARED


def test_a_flag_that_the_watch_does_not_bear_is_withdrawn(shop: Shop, round_: Round) -> None:
    flag = make_flag(round_, kind="fixture", key=shop.fixture.pk)
    outbox.drain()
    flag.refresh_from_db()
    assert flag.state == FlagState.WITHDRAWN
    assert JournalEntry.objects.filter(action="flag.withdrawn").exists()


def test_the_journal_of_a_job_names_nobody(shop: Shop) -> None:
    """Hands that lean every cut of two fixtures the same way on the engine's clock."""
    other = resources.register_fixture(name="Plug B", by=shop.lead, at=NOON)
    for number in range(24):
        make_job(
            shop,
            state=State.MEASURED,
            serial=f"D-{number}",
            found=FOUND_LEANING if number > 11 else FOUND,
            achieved=LEANING if number > 11 else EVEN,
            clocking=90 * (number % 4),
            fixture=other if number % 2 else shop.fixture,
            at=NOON + timedelta(days=number),
        )
    outbox.drain()
    flag = Flag.objects.get(person=shop.operator.person)
    entry = JournalEntry.objects.get(action="flag.raised", subject=f"Flag {flag.pk}")
    assert entry.job is None
    assert "Oskar" not in str(entry.after)
