"""What a person sees when something went wrong."""

from __future__ import annotations

import pytest
from django.test import Client

from dashboards.views import jobs
from tests.dashboards.pages import SignedIn
from tests.make import Shop


@pytest.mark.parametrize("address", ["/nowhere", "/jobs/999", "/jobs/99999999999999999999"])
def test_unknown_and_not_there_get_the_same_page(bench: Client, address: str) -> None:
    answer = bench.get(address)
    assert answer.status_code == 404
    assert "There is no such page, or it is not yours to see" in answer.text
    assert 'aria-label="Main"' in answer.text


def test_a_page_for_another_role_says_who_to_ask(signed_in: SignedIn) -> None:
    answer = signed_in("viewer").get("/jobs/new")
    assert answer.status_code == 403
    assert "The role viewer may not open a job. Ask a lead." in answer.text


def test_a_fault_of_ours_says_what_to_do_and_asks_no_database(
    shop: Shop, monkeypatch: pytest.MonkeyPatch, signed_in: SignedIn, caplog: object
) -> None:
    def broken(**wanted: object) -> None:
        raise RuntimeError("wires crossed")

    monkeypatch.setattr(jobs, "jobs_filtered", broken)
    client = signed_in("operator")
    client.raise_request_exception = False
    answer = client.get("/jobs")
    assert answer.status_code == 500
    assert "Something broke on our side" in answer.text
    assert "wires crossed" not in answer.text
    assert "Sign out" not in answer.text


def test_a_form_with_too_many_fields_is_a_bad_request(bench: Client) -> None:
    answer = bench.post("/jobs/new", {f"x{n}": "1" for n in range(1100)})
    assert answer.status_code == 400
    assert "made no sense" in answer.text
