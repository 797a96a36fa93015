"""Every refusal has one form, whoever makes it: the shop's rules, the framework, or a fault."""

from __future__ import annotations

import inspect
from typing import Any

import pytest
from django.test import Client
from rest_framework.exceptions import Throttled

from api.errors import STATUS, problem_for, problem_response
from api.v1.shop import Me
from qc import errors
from qc.errors import ShopError
from qc.models import BenchToken, Person, Role
from qc.operations.people import make_token, revoke_token
from tests.api.bench import Bench, with_json
from tests.make import NOON, Shop

FORM = {"type", "title", "status", "detail", "code", "fields"}


def is_problem(response: Any, status: int, code: str) -> bool:
    problem = response.json
    assert response.status_code == status, response.content
    assert response.headers["Content-Type"] == "application/problem+json"
    assert set(problem) == FORM
    assert problem["status"] == status
    assert problem["type"] == f"urn:squish-ledger:problem:{problem['code']}"
    assert problem["detail"].endswith((".", "?", '"'))
    return problem["code"] == code


def test_unread_and_unasked_for(shop: Shop, operator: Bench) -> None:
    assert is_problem(operator.send("POST", "jobs", text="{"), 400, "parse_error")
    assert is_problem(operator.send("DELETE", "jobs/1"), 405, "method_not_allowed")
    assert is_problem(operator.send("OPTIONS", "jobs"), 405, "method_not_allowed")
    html = {"Accept": "text/html"}
    assert is_problem(operator.get("me", headers=html), 406, "not_acceptable")
    assert is_problem(operator.get("jobs/999"), 404, "not_found")
    assert is_problem(operator.get("jobs/one"), 404, "not_found")
    assert is_problem(operator.get("nowhere"), 404, "not_found")
    assert is_problem(operator.post("jobs/999/release", {}, match="*"), 404, "not_found")


def test_a_form_is_no_json(shop: Shop, operator: Bench) -> None:
    response = operator.client.post("/api/v1/jobs", {"cylinder": 1}, headers=operator.identity)
    assert is_problem(with_json(response), 415, "unsupported_media_type")


def test_a_body_beyond_all_need(shop: Shop, operator: Bench) -> None:
    huge = '{"note": "' + "x" * 1_100_000 + '"}'
    answer = operator.send("POST", "jobs", text=huge, headers={"Idempotency-Key": "k"})
    assert is_problem(answer, 413, "too_large")
    assert is_problem(operator.send("POST", "jobs", text=huge), 413, "too_large")


@pytest.mark.django_db
@pytest.mark.parametrize(
    "sent", ["", "Bearer", "Bearer squish_guess", "Basic bGVuYTpi", "Token x", "Bearer é"]
)
def test_no_token_of_this_shop(sent: str) -> None:
    answer = with_json(Client().get("/api/v1/me", headers={"Authorization": sent}))
    assert answer.headers["WWW-Authenticate"] == 'Bearer realm="Squish Ledger"'
    code = "authentication_failed" if sent.startswith("Bearer") else "not_authenticated"
    assert is_problem(answer, 401, code)


def test_a_signed_in_browser_is_nobody_here(shop: Shop) -> None:
    browser = Client()
    browser.force_login(shop.lead.person)
    assert is_problem(with_json(browser.get("/api/v1/me")), 401, "not_authenticated")


def test_a_revoked_token_and_a_closed_account(shop: Shop) -> None:
    token, key = make_token(
        person=shop.operator.person, name="Bench", role=Role.OPERATOR, by=shop.lead, at=NOON
    )
    bench = Bench(key)
    assert bench.get("me").status_code == 200
    revoke_token(token=token, by=shop.lead, at=NOON)
    assert is_problem(bench.get("me"), 401, "authentication_failed")
    BenchToken.objects.update(revoked_at=None)
    assert bench.get("me").status_code == 200
    Person.objects.filter(pk=shop.operator.person.pk).update(is_active=False)
    assert is_problem(bench.get("me"), 401, "authentication_failed")


def test_a_token_reaches_no_further_than_it_was_made_for(shop: Shop) -> None:
    bench = Bench.of(shop.lead, role=Role.VIEWER)
    assert bench.get("me").json["role"] == "viewer"
    assert is_problem(bench.post("fixtures", {"name": "Plug B"}), 403, "not_allowed")


def test_a_fault_is_a_problem_and_reaches_the_log(
    shop: Shop,
    operator: Bench,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    def broken(*args: object) -> None:
        raise ZeroDivisionError("a bug")

    monkeypatch.setattr(Me, "get", broken)
    operator.client.raise_request_exception = False
    assert is_problem(operator.get("me"), 500, "server_error")
    [record] = [one for one in caplog.records if one.name == "api.errors"]
    assert record.exc_info is not None
    assert "a bug" not in str(operator.get("me").content)


def test_a_bug_is_not_hidden_from_tests(
    shop: Shop, operator: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*args: object) -> None:
        raise ZeroDivisionError("a bug")

    monkeypatch.setattr(Me, "get", broken)
    with pytest.raises(ZeroDivisionError):
        operator.get("me")


def test_too_many_requests_say_how_long_to_wait() -> None:
    answer = problem_for(Throttled(wait=12.4), {})
    assert (answer.status_code, answer.data["code"]) == (429, "throttled")
    assert answer.headers["Retry-After"] == "13"


def test_problems_from_outside_have_the_same_form() -> None:
    assert is_problem(
        with_json(problem_response(400, "bad_request", "Unread.")), 400, "bad_request"
    )


def test_the_table_names_only_errors_of_the_shop() -> None:
    known = {
        one for _, one in inspect.getmembers(errors, inspect.isclass) if issubclass(one, ShopError)
    }
    assert set(STATUS) <= known
    assert STATUS[ShopError] == 422
    # One that only words another more closely keeps its code.
    own = [one for one in known if "code" in vars(one)]
    assert len({one.code for one in own}) == len(own)
