"""The shop's own things: resources, engines, people's tokens, and its choices through time."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest

from qc.actor import Actor
from qc.lookups.pages import shop as shop_lookups
from qc.lookups.record.engines import (
    cylinder_page,
    cylinder_rows,
    cylinders_filtered,
    family_page,
    family_rows,
)
from qc.lookups.record.jobs import job_record
from qc.lookups.shop.policy import policy_history
from qc.lookups.shop.resources import resource_page, resource_rows
from qc.models import Gauge, Lathe, Role, ServiceKind, State, ToolEdge
from qc.operations import engines, lathe_passes, people, policy, resources
from tests.make import NOON, Shop, make_job

TODAY = NOON.date()


def test_a_resource_counts_each_job_once(shop: Shop) -> None:
    make_job(shop, state=State.MEASURED)
    make_job(shop, state=State.SET_UP, serial="C-2")
    assert [one.jobs for one in resource_rows(Lathe, today=TODAY)] == [2]
    assert [one.jobs for one in resource_rows(Gauge, today=TODAY)] == [2]


def test_a_lathe_lists_its_edges_with_the_retired_one_last(shop: Shop) -> None:
    fresh = resources.fit_edge(
        lathe=shop.lathe,
        slot="1",
        name="Insert 2",
        edge_radius_um=Decimal(15),
        by=shop.lead,
        at=NOON,
    )
    page = resource_page(shop.lathe, today=TODAY)
    assert [one.resource for one in page.edges] == [fresh, shop.edge]
    [worn] = [one for one in resource_rows(ToolEdge, today=TODAY) if one.resource.is_retired]
    assert worn.last_service is not None
    assert worn.last_service.kind == ServiceKind.EDGE_CHANGED


def test_a_gauge_is_overdue_from_the_day_after_it_was_due(shop: Shop) -> None:
    due = date(2027, 1, 31)
    assert not resource_page(shop.gauge, today=due).row.is_overdue
    assert resource_page(shop.gauge, today=due + timedelta(days=1)).row.is_overdue
    counts = shop_lookups.shop_counts(today=due + timedelta(days=1))
    assert (counts.gauges, counts.gauges_overdue) == (1, 1)


def test_the_journal_of_a_resource_says_who_changed_what(shop: Shop) -> None:
    resources.change_resource(
        resource=shop.fixture, by=shop.lead, at=NOON, expected_version=1, note="Turned true"
    )
    resources.retire(resource=shop.fixture, by=shop.lead, at=NOON, why="Cracked")
    retired, changed, registered = resource_page(shop.fixture, today=TODAY).journal
    assert (retired.action, retired.why, str(retired.person)) == (
        "resource.retired",
        "Cracked",
        "Lena",
    )
    assert (changed.before, changed.after) == ({"note": ""}, {"note": "Turned true"})
    assert registered.action == "fixture.registered"


def test_a_cylinder_adds_up_what_it_gave_and_what_is_left(shop: Shop) -> None:
    """By hand: 0.10 before this record and 0.52 cut; 7.0 - 5.5 leaves 1.5 - 0.62 = 0.88."""
    cylinder = engines.register_cylinder(
        family=shop.family, serial="Old", by=shop.operator, at=NOON, earlier_cut_mm=Decimal("0.10")
    )
    [row] = cylinder_rows([cylinder])
    assert (row.jobs, row.removed_mm, row.last_opened_at) == (0, Decimal("0.10"), None)
    job = make_job(shop, state=State.MEASURED)
    job.cylinder.earlier_cut_mm = Decimal("0.10")
    job.cylinder.save()
    page = cylinder_page(job.cylinder)
    assert page.row.removed_mm == Decimal("0.62")
    assert page.row.room_mm == Decimal("0.88")
    assert [one.number for one in page.jobs] == [job.pk]


def test_what_the_dial_took_off_counts_before_it_is_measured(shop: Shop) -> None:
    """Touched off at 2.00, last pass at 2.52; a void pass and a job not yet cut take nothing."""
    job = make_job(shop, state=State.CUT)
    assert job_record(job).removed_mm == pytest.approx(0.52)
    page = cylinder_page(job.cylinder)
    assert (page.row.removed_mm, page.row.room_mm) == (Decimal("0.52"), Decimal("0.98"))
    last = job.rounds.get().passes.latest("number")
    lathe_passes.void_pass(taken=last, why="Misread", by=shop.operator, at=NOON)
    assert job_record(job).removed_mm == pytest.approx(0.25)
    uncut = make_job(shop, state=State.SET_UP, serial="C-2")
    assert job_record(uncut).removed_mm == 0
    assert cylinder_page(uncut.cylinder).row.removed_mm == 0


def test_every_word_of_a_search_must_be_somewhere(shop: Shop) -> None:
    for serial, reference in (("A-1", "Dr Quill"), ("A-2", "Ms Reed"), ("B-1", "Ms Reed")):
        engines.register_cylinder(
            family=shop.family,
            serial=serial,
            by=shop.operator,
            at=NOON,
            customer_reference=reference,
        )
    found = {
        words: [one.serial for one in cylinders_filtered(words)]
        for words in ("", "reed", "a- reed", "alder b", "nobody")
    }
    assert found == {
        "": ["B-1", "A-2", "A-1"],
        "reed": ["B-1", "A-2"],
        "a- reed": ["A-2"],
        "alder b": ["B-1"],
        "nobody": [],
    }


def test_a_familys_floor_is_the_greater_of_the_two(shop: Shop) -> None:
    make_job(shop)
    [row] = family_rows()
    assert (row.floor_mm, row.cylinders, row.jobs) == (Decimal("0.42"), 1, 1)
    engines.change_family(
        family=shop.family,
        by=shop.lead,
        at=NOON,
        expected_version=1,
        maker_floor_mm=Decimal("0.45"),
    )
    page = family_page(shop.family)
    assert page.row.floor_mm == Decimal("0.45")
    assert [one.action for one in page.journal] == ["family.changed", "family.added"]


def test_the_policys_history_lists_what_changed_newest_first(shop: Shop) -> None:
    policy.change_policy(
        by=shop.lead,
        at=NOON,
        why="A customer asked",
        evenness_limit_mm=Decimal("0.050"),
        season_jobs=120,
    )
    newest, first = policy_history()
    assert (newest.by, newest.why) == ("Lena", "A customer asked")
    assert [(one.name, one.before, one.after) for one in newest.choices] == [
        ("evenness_limit_mm", Decimal("0.060000"), Decimal("0.050000")),
        ("season_jobs", 300, 120),
    ]
    assert (first.by, list(first.choices)) == ("", [])


def test_tokens_in_force_come_first_and_others_see_only_their_own(shop: Shop) -> None:
    def token(person: Actor, by: Actor):
        made, _ = people.make_token(
            person=person.person, name="Station", role=Role.VIEWER, by=by, at=NOON
        )
        return made

    of_operator, of_viewer = token(shop.operator, shop.lead), token(shop.viewer, shop.viewer)
    people.revoke_token(token=of_viewer, by=shop.lead, at=NOON)
    assert list(shop_lookups.tokens(of=None)) == [of_operator, of_viewer]
    assert list(shop_lookups.tokens(of=shop.operator.person)) == [of_operator]
    assert list(shop_lookups.tokens(of=shop.viewer.person)) == [of_viewer]
    assert list(shop_lookups.tokens(of=shop.lead.person)) == [of_operator]


def test_a_lead_may_have_a_token_act_for_anyone_others_only_for_themselves(shop: Shop) -> None:
    assert len(shop_lookups.may_act_for(shop.lead)) == 3
    assert [one.key for one in shop_lookups.may_act_for(shop.viewer)] == [shop.viewer.person.pk]


def test_closed_accounts_come_after_open_ones(shop: Shop) -> None:
    lena = shop.lead.person
    people.change_person(
        person=shop.operator.person,
        by=shop.lead,
        at=NOON,
        role=Role.OPERATOR,
        is_active=False,
        unit=lena.unit,
    )
    assert [one.username for one in shop_lookups.people()] == ["lena", "vera", "oskar"]


def test_only_lathes_in_use_are_offered(shop: Shop) -> None:
    resources.register_lathe(name="South lathe", by=shop.lead, at=NOON)
    resources.retire(resource=shop.lathe, by=shop.lead, at=NOON, why="Sold")
    assert [one.label for one in shop_lookups.lathes_in_use()] == ["South lathe"]
