"""The shop's own pages: what a lead keeps, what a refusal keeps, and what others may only read."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from dashboards.forms.families import FamilyForm
from dashboards.forms.settings import SettingsForm
from qc import access
from qc.models import (
    BenchToken,
    EngineFamily,
    Fixture,
    Gauge,
    Lathe,
    Person,
    Role,
    ServiceEvent,
    ShopPolicy,
    State,
    ToolEdge,
)
from qc.operations import engines, people, policy, resources
from tests.clocked import FAR_LEAN, clocked_job, two_planes
from tests.dashboards.counting import queries_of
from tests.dashboards.pages import form_on
from tests.dashboards.permissions import LOOKS
from tests.make import ALDER, NOON, PASSWORD, Shop, make_job, make_person

KINDS = ("lathe", "edge", "gauge", "fixture")
BIRCH = {
    "name": "Birch 71",
    "note": "",
    "bore_mm": "49.3",
    "stroke_mm": "37.1",
    "rod_mm": "64.8",
    "target_mm": "0.53",
    "tol_minus_mm": "2 thou",
    "tol_plus_mm": "2 thou",
    "floor_mm": "0.45",
    "gasket_mm": "0",
    "measuring_radius_mm": "22.2",
}


def filled(client: Client, address: str, **changes: Any) -> dict[str, Any]:
    """What a browser would send: the form as the page filled it, with some changes."""
    return {**as_shown(client.get(address).context["form"]), **changes}


def as_shown(form: Any) -> dict[str, Any]:
    values = {name: form[name].value() for name in form.fields}
    return {
        name: value for name, value in values.items() if value is not None and value is not False
    }


def test_the_index_counts_what_the_shop_has(shop: Shop, bench: Client) -> None:
    page = bench.get("/shop").text
    assert "A lead changes what is here." in page
    for place in ("lathes", "edges", "gauges", "fixtures", "families", "cylinders", "people"):
        assert f'href="/shop/{place}"' in page


@pytest.mark.parametrize("kind", KINDS)
def test_those_who_may_not_change_are_offered_no_change(
    shop: Shop, bench: Client, kind: str
) -> None:
    for address in (f"/shop/{kind}s", f"/shop/{kind}s/{getattr(shop, kind).pk}"):
        page = bench.get(address).text
        assert "/new" not in page
        for deed in ("change", "retire", "service"):
            assert f"/{deed}" not in page


@pytest.mark.django_db
def test_every_page_opens_in_a_shop_that_has_nothing_yet() -> None:
    client = Client()
    client.force_login(make_person("lena", Role.LEAD))
    for row in LOOKS:
        if row.method == "get" and not row.where:
            assert client.get(reverse(f"dashboards:{row.name}")).status_code == 200, row.name
    where = "/shop/settings/change"
    done = client.post(where, filled(client, where, shop_name="Harbour Lane", why="Ours"))
    assert done.status_code == 302
    assert ShopPolicy.objects.latest("pk").shop_name == "Harbour Lane"


# Lathes, edges, gauges, fixtures.


def test_a_lathe_is_registered_and_a_taken_name_keeps_what_was_typed(
    shop: Shop, lead: Client
) -> None:
    where = "/shop/lathes/new"
    taken = lead.post(where, {"name": "north lathe", "dial_factor": "0.5", "note": "By the door"})
    assert taken.status_code == 422
    assert "exists already" in taken.text
    for typed in ("north lathe", "0.5", "By the door"):
        assert typed in taken.text
    done = lead.post(where, {"name": "South lathe", "dial_factor": "0.5"}, follow=True)
    assert done.redirect_chain == [("/shop/lathes", 302)]
    assert Lathe.objects.get(name="South lathe").dial_factor == Decimal("0.5")


def test_an_impossible_dial_factor_is_marked_on_its_field(shop: Shop, lead: Client) -> None:
    answer = lead.post("/shop/lathes/new", {"name": "South lathe", "dial_factor": "1.2"})
    assert answer.status_code == 422
    assert "dial_factor" in answer.context["form"].errors


def test_a_gauge_is_registered_with_its_step_as_typed(shop: Shop, lead: Client) -> None:
    sent = {"name": "Inch mike", "step": "0.0005 in", "calibration_u_mm": "0.05 thou"}
    assert lead.post("/shop/gauges/new", sent).status_code == 302
    gauge = Gauge.objects.get(name="Inch mike")
    assert (gauge.step_value, gauge.step_unit) == ("0.0005", "in")
    assert gauge.step_mm == Decimal("0.0127")
    assert gauge.calibration_u_mm == Decimal("0.00127")
    assert gauge.calibration_due is None


def test_a_step_of_nothing_or_of_words_is_refused(shop: Shop, lead: Client) -> None:
    for step, said in (("0", "above zero"), ("fine", "as a length"), ("-1", "never negative")):
        sent = {"name": "Mike", "step": step, "calibration_u_mm": "0"}
        answer = lead.post("/shop/gauges/new", sent)
        assert answer.status_code == 422
        assert said in answer.text
    assert Gauge.objects.count() == 1


def test_a_fresh_edge_retires_the_one_in_its_slot(shop: Shop, lead: Client) -> None:
    where = f"/shop/edges/new?lathe={shop.lathe.pk}&slot=1"
    sent = filled(lead, where, name="Insert 2", edge_radius_um="15")
    assert (sent["lathe"], sent["slot"]) == (str(shop.lathe.pk), "1")
    done = lead.post(where, sent, follow=True)
    assert "Insert 2 is fitted" in done.text
    shop.edge.refresh_from_db()
    assert shop.edge.is_retired
    assert ToolEdge.objects.get(retired_at=None).name == "Insert 2"


def test_an_edge_without_a_lathe_keeps_what_was_typed(shop: Shop, lead: Client) -> None:
    answer = lead.post(
        "/shop/edges/new", filled(lead, "/shop/edges/new?slot=2", name="Bit", edge_radius_um="15")
    )
    assert answer.status_code == 422
    assert 'value="Bit"' in answer.text
    assert answer.context["form"].errors.keys() == {"lathe"}


def test_a_change_saves_only_what_was_changed(shop: Shop, lead: Client) -> None:
    where = f"/shop/gauges/{shop.gauge.pk}/change"
    sent = filled(lead, where, serial="M-9")
    done = lead.post(where, sent, follow=True)
    assert "The gauge is changed." in done.text
    shop.gauge.refresh_from_db()
    assert (shop.gauge.serial, shop.gauge.version) == ("M-9", 2)
    assert "M-9" in done.text
    lead.post(where, filled(lead, where))
    shop.gauge.refresh_from_db()
    assert shop.gauge.version == 2


def test_the_second_of_two_leads_sees_what_the_first_saved(shop: Shop, lead: Client) -> None:
    where = f"/shop/fixtures/{shop.fixture.pk}/change"
    seen = filled(lead, where)
    lead.post(where, {**seen, "note": "Turned true on Monday"})
    conflict = lead.post(where, {**seen, "note": "Bought second hand"})
    assert conflict.status_code == 409
    assert "Someone else saved" in conflict.text
    assert "On record now: Turned true on Monday" in conflict.text
    assert "Bought second hand" in conflict.text
    shop.fixture.refresh_from_db()
    assert shop.fixture.note == "Turned true on Monday"
    assert lead.post(where, as_shown(conflict.context["form"])).status_code == 302
    shop.fixture.refresh_from_db()
    assert shop.fixture.note == "Bought second hand"


@pytest.mark.parametrize("kind", KINDS)
def test_retiring_needs_a_reason_and_is_told_afterwards(
    shop: Shop, lead: Client, kind: str
) -> None:
    where = f"/shop/{kind}s/{getattr(shop, kind).pk}"
    bare = lead.post(f"{where}/retire", {"why": " "})
    assert bare.status_code == 422
    assert "Say why it is retired." in bare.text
    done = lead.post(f"{where}/retire", {"why": "Dropped"}, follow=True)
    assert "Dropped" in done.text
    assert f"{where}/change" not in done.text
    again = lead.post(f"{where}/retire", {"why": "Twice over"})
    assert again.status_code == 422
    assert "Twice over" in again.text


def test_a_calibration_asks_when_the_next_is_due_and_keeps_the_rest(
    shop: Shop, lead: Client
) -> None:
    where = f"/shop/gauges/{shop.gauge.pk}/service"
    sent = {"kind": "calibrated", "as_found_mm": "0.002", "note": "Block set 4"}
    bare = lead.post(where, sent)
    assert bare.status_code == 422
    assert bare.context["form"].errors.keys() == {"calibration_due"}
    assert "Block set 4" in bare.text
    assert ServiceEvent.objects.count() == 0
    done = lead.post(
        where,
        {**sent, "calibration_due": "2028-01-31", "calibration_u_mm": "0.0008"},
        follow=True,
    )
    assert "Block set 4" in done.text
    shop.gauge.refresh_from_db()
    assert shop.gauge.calibration_due is not None
    assert shop.gauge.calibration_due.isoformat() == "2028-01-31"
    assert shop.gauge.calibration_u_mm == Decimal("0.0008")


def test_a_kind_of_service_that_does_not_fit_is_not_offered(shop: Shop, lead: Client) -> None:
    where = f"/shop/lathes/{shop.lathe.pk}/service"
    assert "calibrated" not in lead.get(where).text
    assert lead.post(where, {"kind": "calibrated"}).status_code == 422
    assert lead.post(where, filled(lead, where)).status_code == 302
    assert ServiceEvent.objects.get().kind == "repaired"


def test_an_edge_has_a_nose_and_a_fixture_its_two_circles(shop: Shop, lead: Client) -> None:
    edge = f"/shop/edges/{shop.edge.pk}/change"
    assert lead.post(edge, filled(lead, edge, nose_radius_mm="0.8")).status_code == 302
    blunt = lead.post(edge, filled(lead, edge, nose_radius_mm="0"))
    assert blunt.context["form"].errors == {"nose_radius_mm": ["This is above zero."]}
    fixture = f"/shop/fixtures/{shop.fixture.pk}/change"
    assert (
        lead.post(fixture, filled(lead, fixture, planes_apart_mm="50", jaws="3")).status_code == 302
    )
    shop.edge.refresh_from_db()
    shop.fixture.refresh_from_db()
    assert shop.edge.nose_radius_mm == Decimal("0.8")
    assert (shop.fixture.planes_apart_mm, shop.fixture.jaws) == (Decimal(50), 3)


# Families and cylinders.


def test_a_family_is_added_from_lengths_in_any_unit(shop: Shop, lead: Client) -> None:
    done = lead.post("/shop/families/new", BIRCH, follow=True)
    assert "Birch 71" in done.text
    family = EngineFamily.objects.get(name="Birch 71")
    assert family.tol_plus_mm == Decimal("0.0508")
    assert family.maker_floor_mm is None


@pytest.mark.parametrize(
    ("change", "field", "said"),
    [
        ({"target_mm": "0.40"}, "target_mm", "under the floor"),
        ({"rod_mm": "18"}, "rod_mm", "cannot turn a crank"),
        ({"name": "alder 46"}, "name", "exists already"),
        ({"bore_mm": ""}, "bore_mm", "required"),
        ({"skirt_length_mm": "-3"}, "skirt_length_mm", "never negative"),
    ],
)
def test_a_family_that_cannot_be_keeps_everything_typed(
    shop: Shop, lead: Client, change: dict[str, str], field: str, said: str
) -> None:
    answer = lead.post("/shop/families/new", {**BIRCH, **change})
    assert answer.status_code == 422
    assert field in answer.context["form"].errors
    assert said in answer.text
    for typed in {**BIRCH, **change}.values():
        assert f'value="{typed}"' in answer.text or not typed
    assert EngineFamily.objects.count() == 1


def test_a_folded_group_opens_where_something_is_wrong(shop: Shop, lead: Client) -> None:
    assert '<details class="folded" open>' not in lead.get("/shop/families/new").text
    answer = lead.post("/shop/families/new", {**BIRCH, "rpm_free": "fast"})
    assert answer.text.count('<details class="folded" open>') == 1


def test_a_family_is_changed_for_the_jobs_to_come(shop: Shop, lead: Client) -> None:
    job = make_job(shop)
    where = f"/shop/families/{shop.family.pk}/change"
    done = lead.post(where, filled(lead, where, target_mm="0.55"), follow=True)
    assert "for the jobs to come" in done.text
    job.refresh_from_db()
    assert job.target_mm == ALDER["target_mm"]
    shop.family.refresh_from_db()
    assert shop.family.target_mm == Decimal("0.55")


def test_two_leads_at_one_family(shop: Shop, lead: Client) -> None:
    where = f"/shop/families/{shop.family.pk}/change"
    seen = filled(lead, where)
    lead.post(where, {**seen, "target_mm": "0.55"})
    conflict = lead.post(where, {**seen, "floor_mm": "0.43"})
    assert conflict.status_code == 409
    assert "On record now: 0.550 mm" in conflict.text


def window(n: int, *values: str) -> dict[str, str]:
    names = ("name", "centre_deg", "half_width_deg", "upper_mm", "lower_mm")
    return {f"{name}_{n}": value for name, value in zip(names, values, strict=True)}


def test_windows_are_kept_row_by_row_and_an_empty_row_is_none(shop: Shop, lead: Client) -> None:
    where = f"/shop/families/{shop.family.pk}/windows"
    transfer = window(0, "Left transfer", "105", "28", "25.7", "31.6")
    done = lead.post(
        where, {**transfer, **window(2, "Boost", "180", "20", "1 in", "31")}, follow=True
    )
    assert "Left transfer" in done.text
    assert [str(one.upper_mm) for one in shop.family.windows.all()] == ["25.700000", "25.400000"]
    kept = filled(lead, where)
    assert lead.post(where, {**kept, **window(0, "", "", "", "", "")}).status_code == 302
    assert [one.name for one in shop.family.windows.all()] == ["Boost"]


def test_a_window_half_filled_or_upside_down_keeps_what_was_typed(shop: Shop, lead: Client) -> None:
    where = f"/shop/families/{shop.family.pk}/windows"
    half = lead.post(where, window(0, "Left transfer", "105", "", "25.7", "31.6"))
    assert half.status_code == 422
    assert half.context["form"].errors.keys() == {"half_width_deg_0"}
    over = lead.post(where, window(1, "Left transfer", "105", "28", "31.6", "25.7"))
    assert over.context["form"].errors.keys() == {"lower_mm_1"}
    assert 'value="Left transfer"' in over.text
    assert not shop.family.windows.exists()


def test_a_lead_takes_the_shops_own_carry_through(shop: Shop, lead: Client, bench: Client) -> None:
    """Worked out in tests/operations/test_own_share.py: 0.39 from one clocking test."""
    two_planes(shop)
    assert "No clocking test has shown a share" in lead.get("/shop/settings").text
    clocked_job(shop, **FAR_LEAN)
    page = lead.get("/shop/settings")
    assert "1 clocking test:" in page.text
    assert "Use the shop's own" not in bench.get("/shop/settings").text
    late = lead.post("/shop/settings/own-share", {"seen": "0.900"}, follow=True)
    assert "Nothing was changed" in late.text
    taken = lead.post("/shop/settings/own-share", form_on(page.text, "seen"), follow=True)
    assert "0.387 ± " in taken.text.replace("\N{NO-BREAK SPACE}", " ")
    assert ShopPolicy.objects.latest("pk").carry_through == Decimal("0.387")


READ = {"filled_cc": "6.6", "plug_well_cc": "0.5"}


def test_a_burette_reading_is_worked_out_and_keeps_nothing(shop: Shop, bench: Client) -> None:
    """6.6 - 0.5 = 6.1 cc; 46.32 cc swept gives 8.59 : 1. Only a lead may keep it."""
    page = bench.get(f"/shop/families/{shop.family.pk}/burette", READ)
    assert page.status_code == 200
    words = page.text.replace("\N{NO-BREAK SPACE}", " ")
    assert "6.100 cc" in words
    assert "8.59 : 1" in words
    assert "Use it as" not in words
    shop.family.refresh_from_db()
    assert shop.family.clearance_cc == Decimal("6.090")


def test_a_lead_makes_a_burette_reading_the_familys_own(shop: Shop, lead: Client) -> None:
    where = f"/shop/families/{shop.family.pk}/burette"
    kept = form_on(lead.get(where, READ).text, "filled_cc")
    assert lead.post(f"{where}/keep", kept).status_code == 302
    shop.family.refresh_from_db()
    assert shop.family.clearance_cc == Decimal("6.100")
    # Somebody else changed the family since: nothing is kept, and what was typed still stands.
    late = lead.post(f"{where}/keep", {**kept, "filled_cc": "7.0"})
    assert late.status_code == 409
    assert 'value="7.0"' in late.text
    again = form_on(late.text, "filled_cc")
    assert lead.post(f"{where}/keep", again).status_code == 302
    shop.family.refresh_from_db()
    assert shop.family.clearance_cc == Decimal("6.500")


@pytest.mark.parametrize("typed", [{**READ, "plug_well_cc": "7"}, {**READ, "filled_cc": "a lot"}])
def test_a_burette_reading_that_cannot_be_stays_as_typed(
    shop: Shop, lead: Client, typed: dict[str, str]
) -> None:
    page = lead.get(f"/shop/families/{shop.family.pk}/burette", typed)
    assert page.status_code == 422
    assert all(f'value="{one}"' in page.text for one in typed.values())
    assert "Use it as" not in page.text


def test_a_family_is_retired_with_a_reason(shop: Shop, lead: Client) -> None:
    where = f"/shop/families/{shop.family.pk}"
    assert lead.post(f"{where}/retire", {"why": ""}).status_code == 422
    assert (
        "No longer made"
        in lead.post(f"{where}/retire", {"why": "No longer made"}, follow=True).text
    )
    assert "/change" not in lead.get(where).text


def test_cylinders_are_found_and_paged(shop: Shop, bench: Client) -> None:
    for n in range(27):
        engines.register_cylinder(
            family=shop.family,
            serial=f"S-{n:02}",
            by=shop.operator,
            at=NOON,
            customer_reference="Reed & Sons" if n < 3 else "",
        )
    page = bench.get("/shop/cylinders").text
    assert "Page 1 of 2" in page
    assert "S-26" in page
    assert "S-01" not in page
    found = bench.get("/shop/cylinders?words=reed+s-01").text
    assert "S-01" in found
    assert "S-02" not in found
    assert 'value="reed s-01"' in found
    assert "Try fewer" in bench.get("/shop/cylinders?words=nobody").text
    assert bench.get("/shop/cylinders?page=many").status_code == 200


def test_a_cylinder_shows_what_it_gave_and_its_jobs(shop: Shop, bench: Client) -> None:
    job = make_job(shop, state=State.MEASURED)
    page = bench.get(f"/shop/cylinders/{job.cylinder_id}").text
    assert "0.520" in page
    assert "0.980" in page
    assert f"Job {job.pk}" in page


# People and tokens.


def test_a_lead_adds_a_person_who_can_then_sign_in(shop: Shop, lead: Client) -> None:
    sent = {
        "username": "maeve",
        "name": "Maeve",
        "role": "operator",
        "unit": "thou",
        "password": "brass-shim-043",
    }
    assert lead.post("/shop/people/new", sent).status_code == 302
    assert Client().login(username="maeve", password="brass-shim-043")
    again = lead.post("/shop/people/new", {**sent, "username": "MAEVE"})
    assert again.status_code == 422
    assert 'value="MAEVE"' in again.text


def test_a_weak_password_is_marked_and_not_shown_again(shop: Shop, lead: Client) -> None:
    sent = {"username": "m", "role": "viewer", "unit": "mm", "password": "12345678"}
    answer = lead.post("/shop/people/new", sent)
    assert answer.context["form"].errors.keys() == {"password"}
    assert "12345678" not in answer.text


def test_a_lead_changes_a_role_and_closes_an_account(shop: Shop, lead: Client) -> None:
    person = shop.operator.person
    where = f"/shop/people/{person.pk}/change"
    bench = Client()
    bench.force_login(person)
    assert lead.post(where, {"role": "viewer", "unit": "mm"}).status_code == 302
    person.refresh_from_db()
    assert (person.role, person.is_active) == (Role.VIEWER, False)
    assert bench.get("/shop").status_code == 302
    assert "closed" in lead.get("/shop/people").text


def test_the_last_lead_stays_one(shop: Shop, lead: Client) -> None:
    where = f"/shop/people/{shop.lead.person.pk}/change"
    answer = lead.post(where, {"role": "viewer", "unit": "mm", "is_active": "on"})
    assert answer.status_code == 422
    assert "needs one active lead" in answer.text
    assert Person.objects.get(username="lena").role == Role.LEAD


def test_a_lead_sets_a_forgotten_password(shop: Shop, lead: Client) -> None:
    where = f"/shop/people/{shop.operator.person.pk}/password"
    assert lead.post(where, {"password": "short"}).status_code == 422
    assert lead.post(where, {"password": "quiet-anvil-77"}).status_code == 302
    assert Client().login(username="oskar", password="quiet-anvil-77")
    assert not Client().login(username="oskar", password=PASSWORD)


def test_a_token_is_shown_once_and_opens_what_its_owner_may(shop: Shop, bench: Client) -> None:
    where = "/shop/tokens/new"
    sent = filled(bench, where, name="Indicator station")
    made = bench.post(where, sent)
    key = made.context["key"]
    assert key in made.text
    assert "no-store" in made.headers["Cache-Control"]
    actor = access.actor_for_key(key, at=NOON)
    assert actor is not None
    assert (actor.person, actor.role) == (shop.operator.person, Role.OPERATOR)
    page = bench.get("/shop/tokens").text
    assert key not in page
    assert "Indicator station" in page
    token = BenchToken.objects.get()
    assert bench.post(f"/shop/tokens/{token.pk}/revoke").status_code == 302
    assert access.actor_for_key(key, at=NOON) is None


def test_nobody_makes_a_token_that_reaches_further_than_they_do(shop: Shop, bench: Client) -> None:
    lena = shop.lead.person.pk
    for wish in ({"role": "lead"}, {"person": lena}):
        sent = {"name": "Station", "person": shop.operator.person.pk, "role": "operator", **wish}
        answer = bench.post("/shop/tokens/new", sent)
        assert answer.status_code == 422
        assert 'value="Station"' in answer.text
    assert not BenchToken.objects.exists()


def test_a_token_of_another_is_neither_listed_nor_revoked(shop: Shop, bench: Client) -> None:
    token, _ = people.make_token(
        person=shop.lead.person, name="Office", role=Role.LEAD, by=shop.lead, at=NOON
    )
    assert "Office" not in bench.get("/shop/tokens").text
    assert bench.post(f"/shop/tokens/{token.pk}/revoke").status_code == 403
    token.refresh_from_db()
    assert token.revoked_at is None


# Settings.


def test_every_choice_of_shop_and_family_is_on_its_form() -> None:
    assert {one.name for one in SettingsForm.all_columns()} == set(policy.CHOICES)
    assert {one.name for one in FamilyForm.all_columns()} == set(engines.CHOICES)


def test_settings_change_with_a_reason_and_keep_their_history(shop: Shop, lead: Client) -> None:
    where = "/shop/settings/change"
    sent = filled(lead, where, evenness_limit_mm="2 thou")
    bare = lead.post(where, sent)
    assert bare.status_code == 422
    assert bare.context["form"].errors.keys() == {"why"}
    assert 'value="2 thou"' in bare.text
    done = lead.post(where, {**sent, "why": "A customer asked"}, follow=True)
    assert "A customer asked" in done.text
    assert (
        "Evenness limit: was 0.060\N{NO-BREAK SPACE}mm, now 0.051\N{NO-BREAK SPACE}mm" in done.text
    )
    assert "Lena" in done.text
    newest = ShopPolicy.objects.latest("pk")
    assert newest.evenness_limit_mm == Decimal("0.0508")
    assert newest.overdue_gauge_is_refused


def test_an_unknown_time_zone_is_marked_on_its_field(shop: Shop, lead: Client) -> None:
    where = "/shop/settings/change"
    answer = lead.post(where, filled(lead, where, time_zone="Mars/Olympus", why="Moved"))
    assert answer.status_code == 422
    assert answer.context["form"].errors.keys() == {"time_zone"}
    assert "Mars/Olympus" in answer.text


def test_a_choice_that_another_changed_meanwhile_is_not_taken_back(
    shop: Shop, lead: Client
) -> None:
    where = "/shop/settings/change"
    seen = filled(lead, where, why="Finer finish", finish_mm="0.04")
    policy.change_policy(by=shop.lead, at=timezone.now(), why="Busier", season_jobs=400)
    conflict = lead.post(where, seen)
    assert conflict.status_code == 409
    assert "On record now: 400" in conflict.text
    assert 'value="0.04"' in conflict.text
    assert ShopPolicy.objects.latest("pk").season_jobs == 400


# However much there is.


def test_lists_take_as_many_queries_at_thirty_as_at_three(shop: Shop, lead: Client) -> None:
    lists = [f"/shop/{kind}s" for kind in KINDS]
    lists += [f"/shop/{name}" for name in ("families", "cylinders", "people", "tokens", "settings")]
    addresses = [
        *lists,
        "/shop",
        f"/shop/lathes/{shop.lathe.pk}",
        f"/shop/fixtures/{shop.fixture.pk}",
    ]

    def more(numbers: range) -> None:
        for n in numbers:
            told = {"by": shop.lead, "at": NOON + timedelta(minutes=n)}
            resources.register_lathe(name=f"Lathe {n}", **told)
            resources.register_fixture(name=f"Plug {n}", **told)
            resources.fit_edge(
                lathe=shop.lathe, slot="1", name=f"Bit {n}", edge_radius_um=Decimal(9), **told
            )
            resources.record_service(subject=shop.fixture, kind="dressed", **told)
            engines.add_family(**{**ALDER, "name": f"Alder {100 + n}"}, **told)
            engines.register_cylinder(family=shop.family, serial=f"S-{n}", **told)
            people.make_token(person=shop.viewer.person, name=f"T{n}", role="viewer", **told)
            policy.change_policy(why="Busier", season_jobs=301 + n, **told)

    more(range(3))
    few = [queries_of(lead, one) for one in addresses]
    more(range(3, 30))
    assert [queries_of(lead, one) for one in addresses] == few
    assert Fixture.objects.count() == 31
