"""Signing in and out, being held back after many failures, and a person's own page."""

from __future__ import annotations

import pytest
from django.contrib.auth import get_user
from django.test import Client

from qc.models import JournalEntry, Person
from qc.operations import sign_ins
from tests.make import PASSWORD, Shop


def sign_in(client: Client, username: str, password: str, where: str = "") -> object:
    return client.post("/sign-in", {"username": username, "password": password, "next": where})


def test_a_visitor_signs_in_and_comes_back_to_the_page_asked_for(shop: Shop) -> None:
    client = Client()
    asked = client.get("/me")
    assert asked.headers["Location"] == "/sign-in?next=/me"
    answer = sign_in(client, "OSKAR", PASSWORD, "/me")
    assert answer.headers["Location"] == "/me"
    assert get_user(client) == shop.operator.person


def test_the_way_back_never_leads_off_the_site(shop: Shop) -> None:
    answer = sign_in(Client(), "oskar", PASSWORD, "https://elsewhere.example/")
    assert answer.headers["Location"] == "/"


def test_a_wrong_password_says_so_and_keeps_the_name(shop: Shop) -> None:
    answer = sign_in(Client(), "oskar", "wrong")
    assert answer.status_code == 422
    assert 'value="oskar"' in answer.text
    assert "do not go together" in answer.text


def test_a_closed_account_and_an_unknown_name_get_the_same_answer(shop: Shop) -> None:
    Person.objects.filter(username="oskar").update(is_active=False)
    closed = sign_in(Client(), "oskar", PASSWORD)
    unknown = sign_in(Client(), "nobody", PASSWORD)
    for answer in (closed, unknown):
        assert answer.status_code == 422
        assert "do not go together" in answer.text


def test_ten_failures_hold_that_name_back_and_no_other(shop: Shop) -> None:
    for _ in range(sign_ins.MOST_FAILURES):
        assert sign_in(Client(), "oskar", "wrong").status_code == 422
    held = sign_in(Client(), "Oskar", PASSWORD)
    assert held.status_code == 429
    assert "quarter of an hour" in held.text
    assert sign_in(Client(), "lena", PASSWORD).status_code == 302


def test_signing_in_forgets_the_failures_before_it(shop: Shop) -> None:
    for _ in range(sign_ins.MOST_FAILURES - 1):
        sign_in(Client(), "oskar", "wrong")
    assert sign_in(Client(), "oskar", PASSWORD).status_code == 302
    assert sign_in(Client(), "oskar", "wrong").status_code == 422
    assert sign_in(Client(), "oskar", PASSWORD).status_code == 302


def test_signing_out_is_by_post_alone(bench: Client) -> None:
    assert bench.get("/sign-out").status_code == 405
    assert bench.post("/sign-out").headers["Location"] == "/sign-in"
    assert get_user(bench).is_anonymous


def test_a_person_changes_their_password_and_stays_signed_in(bench: Client, shop: Shop) -> None:
    new = "quiet-anvil-77"
    sent = {"save": "password", "old": PASSWORD, "password": new, "again": new}
    assert bench.post("/me", sent).status_code == 302
    assert bench.get("/me").status_code == 200
    assert sign_in(Client(), "oskar", new).status_code == 302
    assert JournalEntry.objects.filter(action="person.password_changed").count() == 1


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"old": "wrong"}, "not your password"),
        ({"again": "other"}, "differ"),
        ({"password": "12345678", "again": "12345678"}, "entirely numeric"),
    ],
)
def test_a_password_is_not_changed_for_a_reason_that_is_said(
    bench: Client, shop: Shop, change: dict[str, str], said: str
) -> None:
    new = "quiet-anvil-77"
    sent = {"save": "password", "old": PASSWORD, "password": new, "again": new, **change}
    answer = bench.post("/me", sent)
    assert answer.status_code == 422
    assert said in answer.text
    shop.operator.person.refresh_from_db()
    assert shop.operator.person.check_password(PASSWORD)


def test_a_person_chooses_the_unit_lengths_are_shown_in(bench: Client, shop: Shop) -> None:
    assert bench.post("/me", {"save": "unit", "unit": "thou"}).status_code == 302
    shop.operator.person.refresh_from_db()
    assert shop.operator.person.unit == "thou"
