"""A fixture re-indicated at the lathe: reported by an operator, made a service by a lead."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from importlib import import_module

import pytest
from django.apps import apps

from qc.errors import (
    BadInput,
    LeftFarOver,
    LeftOverLimit,
    LeftWorse,
    NotAllowed,
    NotYourReport,
    ReasonNeeded,
    Retired,
    ShopError,
)
from qc.lookups.flags.flag_score import flag_score
from qc.lookups.flags.reindications import waiting
from qc.lookups.flags.told import flag_line
from qc.models import (
    CauseFound,
    Flag,
    FlagCheck,
    FlagState,
    JournalEntry,
    OutboxItem,
    Reindication,
    Round,
    ServiceEvent,
    ServiceKind,
    State,
)
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
    assert (event.at, event.by) == (DONE, shop.operator.person)
    assert (event.as_found_mm, event.as_left_mm) == (Decimal("0.08"), Decimal("0.005"))
    assert event.note == "A burr"
    flag.refresh_from_db()
    assert (flag.state, flag.service) == (FlagState.CLEARED, event)
    assert (flag.closed_at, flag.closed_by) == (DONE, shop.lead.person)
    reported.refresh_from_db()
    assert (reported.service, reported.answered_at) == (event, LATER)
    assert reported.answered_by == shop.lead.person
    assert not waiting()
    with pytest.raises(BadInput, match="answered that report already"):
        reindicating.confirm(reported=reported, by=shop.lead, at=LATER)


def test_the_record_says_who_did_it_and_who_confirmed_it_each_at_their_time(
    shop: Shop, round_: Round
) -> None:
    make_flag(round_, kind="fixture", key=shop.fixture.pk)
    reindicating.confirm(reported=report(shop), by=shop.lead, at=LATER)
    first, *confirmed = JournalEntry.objects.filter(at__gte=DONE).order_by("pk")
    assert (first.action, first.person, first.at) == (
        "fixture.reindication_reported",
        shop.operator.person,
        DONE,
    )
    assert [one.action for one in confirmed] == ["service.re_indicated", "flag.cleared"]
    assert {(one.person, one.at) for one in confirmed} == {(shop.lead.person, LATER)}
    assert confirmed[0].after["done_by"] == "Oskar"
    assert confirmed[0].after["done_at"] == str(DONE)
    # Its charts start afresh when it was done; a flag that brings is raised when it was confirmed.
    work = OutboxItem.objects.get(task="qc.follow_restart")
    assert (work.asked_at, work.arguments["since"]) == (LATER, DONE.isoformat())


@pytest.mark.parametrize("found", [CauseFound.NOT_KNOWN, CauseFound.IN_ORDER])
def test_a_flag_raised_since_it_was_done_stays(
    shop: Shop, round_: Round, found: CauseFound
) -> None:
    early = make_flag(
        round_,
        kind="person",
        key=shop.operator.person.pk,
        suspects=[
            ("person", shop.operator.person.pk, 0.5),
            ("fixture", shop.fixture.pk, 0.4),
        ],
    )
    flag = make_flag(round_, kind="fixture", key=shop.fixture.pk)
    Flag.objects.filter(pk=flag.pk).update(raised_at=DONE + timedelta(hours=1))
    reindicating.confirm(reported=report(shop), found=found, by=shop.lead, at=LATER)
    flag.refresh_from_db()
    assert flag.is_open
    assert not flag.checks.exists()
    early.refresh_from_db()
    assert early.is_open is (found == CauseFound.IN_ORDER)


def test_a_cause_found_by_it_is_kept_and_counted(shop: Shop, round_: Round) -> None:
    flag = make_flag(round_, kind="fixture", key=shop.fixture.pk)
    reported = report(shop)
    here = CauseFound.HERE
    with pytest.raises(ReasonNeeded):
        reindicating.confirm(reported=reported, found=here, note=" ", by=shop.lead, at=LATER)
    assert list(waiting()) == [reported]
    # The report's own note is reason enough.
    event = reindicating.confirm(reported=reported, found=here, by=shop.lead, at=LATER)
    flag.refresh_from_db()
    assert (flag.state, flag.service) == (FlagState.CAUSE_FOUND, event)
    assert (flag.cause_kind, flag.cause_id) == ("fixture", shop.fixture.pk)
    score = flag_score(shop.lead)
    assert (score.cause_found, score.located, score.in_likeliest, score.cleared) == (1, 1, 1, 0)


def test_found_in_order_leaves_the_flag_to_its_other_suspects(shop: Shop, round_: Round) -> None:
    hands = ("person", shop.operator.person.pk)
    suspects = [(*hands, 0.6), ("fixture", shop.fixture.pk, 0.35)]
    flag = make_flag(round_, kind="person", key=hands[1], suspects=suspects)
    event = reindicating.confirm(
        reported=report(shop),
        found=CauseFound.IN_ORDER,
        note="It ran true",
        by=shop.lead,
        at=LATER,
    )
    flag.refresh_from_db()
    assert flag.is_open
    check = FlagCheck.objects.get()
    assert (check.kind, check.key, check.service) == ("fixture", shop.fixture.pk, event)
    assert (check.at, check.by, check.note) == (DONE, shop.operator.person, "It ran true")


def test_the_next_jobs_may_be_left_to_tell(shop: Shop, round_: Round) -> None:
    hands = ("person", shop.operator.person.pk)
    suspects = [(*hands, 0.6), ("fixture", shop.fixture.pk, 0.35)]
    flag = make_flag(round_, kind="person", key=hands[1], suspects=suspects)
    event = reindicating.confirm(
        reported=report(shop), found=CauseFound.TO_BE_SEEN, by=shop.lead, at=LATER
    )
    flag.refresh_from_db()
    assert (flag.is_open, event.tells_later) == (True, True)
    [tried] = flag_line(flag, shop.lead).tried
    assert (tried.suspect.name, tried.at, tried.by) == ("Plug A", DONE, "Oskar")
    entry = JournalEntry.objects.get(action="flag.tried")
    assert (entry.person, entry.at) == (shop.lead.person, LATER)


def test_there_is_no_cause_to_tell_where_no_flag_was_open_then(shop: Shop) -> None:
    reported = report(shop)
    with pytest.raises(BadInput, match="No open flag suspects it"):
        reindicating.confirm(reported=reported, found=CauseFound.HERE, by=shop.lead, at=LATER)
    assert list(waiting()) == [reported]
    assert not ServiceEvent.objects.exists()


def test_a_report_names_a_job_made_on_it(shop: Shop, round_: Round) -> None:
    other = resources.register_fixture(name="Plug B", by=shop.lead, at=NOON)
    told = {"as_left_mm": Decimal(0), "job": round_.job, "by": shop.operator, "at": DONE}
    with pytest.raises(BadInput, match="is not made on Plug B") as refused:
        reindicating.report(fixture=other, **told)  # type: ignore[arg-type]
    assert refused.value.fields == ("job",)
    reported = reindicating.report(fixture=shop.fixture, **told)  # type: ignore[arg-type]
    assert reported.job == round_.job
    # The job's own history tells of it, what is corrected too.
    reindicating.correct(reported=reported, as_left_mm=Decimal("0.002"), by=shop.operator, at=LATER)
    assert list(round_.job.journal.order_by("pk").values_list("action", flat=True))[-2:] == [
        "fixture.reindication_reported",
        "fixture.reindication_corrected",
    ]


def test_services_from_reports_of_before_name_who_did_it(shop: Shop) -> None:
    confirmed = reindicating.confirm(reported=report(shop), by=shop.lead, at=LATER)
    own = resources.record_service(
        subject=shop.lathe, kind=ServiceKind.REPAIRED, by=shop.lead, at=LATER
    )
    ServiceEvent.objects.update(by=shop.lead.person)
    step = import_module("qc.migrations.0029_who_did_what_a_lead_confirmed")
    for _ in range(2):
        step.say_who_did_it(apps, None)
    confirmed.refresh_from_db()
    own.refresh_from_db()
    assert (confirmed.by, own.by) == (shop.operator.person, shop.lead.person)


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


def test_one_left_over_the_limit_is_confirmed_with_a_reason_alone(
    shop: Shop, round_: Round
) -> None:
    flag = make_flag(round_, kind="fixture", key=shop.fixture.pk)
    reported = report(shop, left="0.05")
    with pytest.raises(LeftOverLimit):
        reindicating.confirm(reported=reported, by=shop.lead, at=LATER)
    with pytest.raises(ReasonNeeded):
        reindicating.confirm(reported=reported, confirm=True, note="", by=shop.lead, at=LATER)
    assert list(waiting()) == [reported]
    reindicating.confirm(reported=reported, confirm=True, by=shop.lead, at=LATER)
    flag.refresh_from_db()
    assert flag.state == FlagState.CLEARED


def test_a_viewer_reports_nothing_and_nobody_of_a_retired_fixture(shop: Shop) -> None:
    with pytest.raises(NotAllowed):
        reindicating.report(fixture=shop.fixture, as_left_mm=Decimal(0), by=shop.viewer, at=DONE)
    report(shop)
    resources.retire(resource=shop.fixture, why="Cracked", by=shop.lead, at=LATER)
    assert not waiting()
    with pytest.raises(Retired):
        report(shop)


SLIPS: list[tuple[str | None, str, type[ShopError]]] = [
    ("0.08", "0.635", LeftFarOver),  # 25 thou
    (None, "0.0509", LeftFarOver),
    ("0.004", "0.0041", LeftWorse),
    ("0.004", "-0.0041", LeftWorse),
]


@pytest.mark.parametrize(("found", "left", "error"), SLIPS)
def test_an_as_left_that_looks_like_a_slip_is_asked_about_once(
    shop: Shop, found: str | None, left: str, error: type[ShopError]
) -> None:
    told = {
        "as_found_mm": None if found is None else Decimal(found),
        "as_left_mm": Decimal(left),
        "by": shop.operator,
        "at": DONE,
    }
    right = report(shop)
    with pytest.raises(error):
        reindicating.correct(reported=right, **told)  # type: ignore[arg-type]
    reindicating.correct(reported=right, confirm=True, **told)  # type: ignore[arg-type]
    reindicating.set_aside(reported=right, by=shop.lead, at=LATER)
    with pytest.raises(error) as refused:
        reindicating.report(fixture=shop.fixture, **told)  # type: ignore[arg-type]
    assert (refused.value.is_doubt, refused.value.fields) == (True, ("as_left_mm",))
    assert not waiting()
    reported = reindicating.report(fixture=shop.fixture, confirm=True, **told)  # type: ignore[arg-type]
    # Who reported it was asked; the lead reads both lengths before confirming.
    event = reindicating.confirm(reported=reported, by=shop.lead, at=LATER)
    assert event.as_left_mm == Decimal(left)


@pytest.mark.parametrize(("found", "left"), [(None, "0.05"), ("0.005", "0.005"), ("0.08", "0.05")])
def test_an_as_left_as_a_shop_leaves_it_is_taken(shop: Shop, found: str | None, left: str) -> None:
    found_mm = None if found is None else Decimal(found)
    reindicating.report(
        fixture=shop.fixture,
        as_found_mm=found_mm,
        as_left_mm=Decimal(left),
        by=shop.operator,
        at=DONE,
    )


@pytest.mark.parametrize(("found", "left", "error"), SLIPS)
def test_so_is_that_of_a_service(
    shop: Shop, found: str | None, left: str, error: type[ShopError]
) -> None:
    told = {
        "subject": shop.fixture,
        "kind": ServiceKind.DRESSED,
        "as_found_mm": None if found is None else Decimal(found),
        "as_left_mm": Decimal(left),
        "by": shop.lead,
        "at": DONE,
    }
    with pytest.raises(error):
        resources.record_service(**told)  # type: ignore[arg-type]
    resources.record_service(confirm=True, **told)  # type: ignore[arg-type]
    assert ServiceEvent.objects.get().as_left_mm == Decimal(left)


def test_a_gauge_left_with_more_error_than_it_had_is_asked_about_too(shop: Shop) -> None:
    told = {"subject": shop.gauge, "kind": ServiceKind.REPAIRED, "by": shop.lead, "at": DONE}
    lengths = {"as_found_mm": Decimal("0.002"), "as_left_mm": Decimal("0.2")}
    with pytest.raises(LeftWorse):
        resources.record_service(**told, **lengths)  # type: ignore[arg-type]
    # A gauge is held to no indicating limit.
    resources.record_service(**{**told, **lengths, "as_found_mm": None})  # type: ignore[arg-type]


def test_who_reported_it_puts_it_right_while_it_waits_and_the_journal_keeps_both(
    shop: Shop,
) -> None:
    reported = report(shop)
    told = {"as_left_mm": Decimal("0.007"), "note": "Dirt ", "at": LATER}
    for other in (shop.lead, shop.viewer):
        with pytest.raises(NotAllowed):
            reindicating.correct(reported=reported, by=other, **told)  # type: ignore[arg-type]
    with pytest.raises(NotYourReport, match="Oskar reported that"):
        reindicating.take_back(reported=reported, by=shop.lead, at=LATER)
    reindicating.correct(reported=reported, by=shop.operator, **told)  # type: ignore[arg-type]
    [told_now] = waiting()
    assert (told_now.as_found_mm, told_now.as_left_mm) == (None, Decimal("0.007"))
    assert (told_now.note, told_now.at) == ("Dirt", DONE)
    entry = JournalEntry.objects.get(action="fixture.reindication_corrected")
    assert (entry.before["as_left_mm"], entry.after["as_left_mm"]) == ("0.005000", "0.007")
    assert (entry.before["note"], entry.after["note"]) == ("A burr", "Dirt")
    reindicating.confirm(reported=reported, by=shop.lead, at=LATER)
    for late in (
        lambda: reindicating.correct(reported=reported, by=shop.operator, **told),  # type: ignore[arg-type]
        lambda: reindicating.take_back(reported=reported, by=shop.operator, at=LATER),
    ):
        with pytest.raises(BadInput, match="answered that report already"):
            late()
    assert Reindication.objects.get().service is not None


def test_who_reported_it_takes_it_back_while_it_waits(shop: Shop, round_: Round) -> None:
    flag = make_flag(round_, kind="fixture", key=shop.fixture.pk)
    reported = report(shop)
    reindicating.take_back(reported=reported, by=shop.operator, at=LATER)
    reported.refresh_from_db()
    assert (reported.is_taken_back, reported.answered_at) == (True, LATER)
    entry = JournalEntry.objects.get(action="fixture.reindication_taken_back")
    assert (entry.person, entry.before["as_left_mm"]) == (shop.operator.person, "0.005000")
    flag.refresh_from_db()
    assert flag.is_open
    assert not ServiceEvent.objects.exists()
    with pytest.raises(BadInput):
        reindicating.confirm(reported=reported, by=shop.lead, at=LATER)
    again = report(shop)
    reindicating.set_aside(reported=again, by=shop.lead, at=LATER)
    again.refresh_from_db()
    assert not again.is_taken_back
