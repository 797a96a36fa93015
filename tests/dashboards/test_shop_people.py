"""People, their roles and passwords, and the tokens of bench tools."""

from __future__ import annotations

from django.test import Client

from qc import access
from qc.models import (
    BenchToken,
    Person,
    Role,
)
from qc.operations import people
from tests.dashboards.pages import filled
from tests.make import NOON, PASSWORD, Shop


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
