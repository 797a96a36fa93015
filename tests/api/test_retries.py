"""The same key and request, sent again, gets the first answer again and writes nothing more."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.core.management import call_command
from django.db import OperationalError

from api.models import IdempotentReply
from qc.models import Cylinder, Job, JournalEntry, Reading
from tests.api.bench import Bench, gaps, mm
from tests.make import FOUND, NOON, Shop, make_cylinder, make_job

CYLINDER = {"serial": "C-9"}


def register(shop: Shop, bench: Bench, *, key: str, **changes: Any) -> Any:
    return bench.post("cylinders", {"family": shop.family.pk, **CYLINDER, **changes}, key=key)


def test_a_repeat_gets_the_first_answer_and_writes_nothing(shop: Shop, operator: Bench) -> None:
    first = register(shop, operator, key="a-1")
    entries = JournalEntry.objects.count()
    again = register(shop, operator, key="a-1")
    assert first.status_code == again.status_code == 201
    assert again.content == first.content
    assert again.headers["Location"] == first.headers["Location"]
    assert again.headers["Idempotency-Replayed"] == "true"
    assert "Idempotency-Replayed" not in first.headers
    assert Cylinder.objects.count() == 1
    assert JournalEntry.objects.count() == entries


def test_without_a_key_the_same_request_is_a_second_one(shop: Shop, operator: Bench) -> None:
    body = {"cylinder": make_cylinder(shop).pk, "beside_open": True}
    assert [operator.post("jobs", body).status_code for _ in range(2)] == [201] * 2
    assert Job.objects.count() == 2


def test_a_step_is_repeated_with_the_version_it_was_first_sent_with(
    shop: Shop, operator: Bench
) -> None:
    """The bench did not hear the first answer, so it still holds the old ETag."""
    job = make_job(shop)
    body = {"gauge": shop.gauge.pk, "base_gasket": mm("0.5"), "readings": gaps(FOUND)}
    sent = {"match": f'"{job.version}"', "key": "as-found-7"}
    first = operator.post(f"jobs/{job.pk}/as-found", body, **sent)
    again = operator.post(f"jobs/{job.pk}/as-found", body, **sent)
    assert (first.status_code, again.status_code) == (200, 200)
    assert again.headers["ETag"] == first.headers["ETag"] != sent["match"]
    assert Reading.objects.count() == 4


@pytest.mark.parametrize("changes", [{"serial": "C-10"}, {"customer_reference": "blue"}])
def test_a_key_with_another_body_is_refused(
    changes: dict[str, str], shop: Shop, operator: Bench
) -> None:
    register(shop, operator, key="a-1")
    other = register(shop, operator, key="a-1", **changes)
    assert (other.status_code, other.json["code"]) == (422, "idempotency_key_reused")
    assert Cylinder.objects.count() == 1


def test_a_key_at_another_address_is_refused(shop: Shop, lead: Bench) -> None:
    assert lead.post("fixtures", {"name": "Plug B"}, key="a-1").status_code == 201
    other = lead.post("lathes", {"name": "Plug B"}, key="a-1")
    assert (other.status_code, other.json["code"]) == (422, "idempotency_key_reused")


def test_two_tokens_may_choose_the_same_key(shop: Shop, operator: Bench, lead: Bench) -> None:
    assert register(shop, operator, key="1").status_code == 201
    assert register(shop, lead, key="1", serial="C-10").status_code == 201
    assert Cylinder.objects.count() == 2


def test_a_refusal_is_not_kept(shop: Shop, operator: Bench) -> None:
    """Missing If-Match, then an old version, then a bad reading: the key stays free throughout."""
    job = make_job(shop)
    body = {"gauge": shop.gauge.pk, "base_gasket": mm("0.5"), "readings": gaps({**FOUND, 90: "-1"})}
    path = f"jobs/{job.pk}/as-found"
    assert operator.post(path, body, key="k").status_code == 428
    assert operator.post(path, body, key="k", match='"99"').status_code == 412
    assert operator.post(path, body, key="k", match="*").status_code == 422
    assert operator.post(f"jobs/{job.pk}/release", {}, key="k", match="*").status_code == 403
    assert (
        operator.post(f"jobs/{job.pk}/plan", {"gasket_next": mm("0")}, key="k", match="*").json[
            "code"
        ]
        == "wrong_state"
    )
    assert IdempotentReply.objects.count() == 0
    mended = {**body, "readings": gaps(FOUND)}
    assert operator.post(path, mended, key="k", match="*").status_code == 200
    assert IdempotentReply.objects.get().status == 200


def test_a_fault_on_our_side_keeps_neither_write_nor_key(
    shop: Shop, operator: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = make_job(shop)

    def busy(*args: object, **kwargs: object) -> None:
        raise OperationalError("database is locked")

    body = {"gauge": shop.gauge.pk, "base_gasket": mm("0.5"), "readings": gaps(FOUND)}
    operator.client.raise_request_exception = False
    with monkeypatch.context() as broken:
        # After the readings were written, and before the answer was.
        broken.setattr("api.v1.jobs.job_record", busy)
        answer = operator.post(f"jobs/{job.pk}/as-found", body, key="k", match="*")
    assert (answer.status_code, answer.json["code"]) == (503, "busy")
    assert answer.headers["Retry-After"] == "1"
    assert Reading.objects.count() == 0
    assert operator.post(f"jobs/{job.pk}/as-found", body, key="k", match="*").status_code == 200


@pytest.mark.parametrize("key", ["", " ", "two words", "x" * 201, "é"])
def test_a_key_that_cannot_be_kept_is_refused(key: str, shop: Shop, operator: Bench) -> None:
    sent = {"Idempotency-Key": key}
    answer = operator.send("POST", "cylinders", {"family": 1}, headers=sent)
    assert (answer.status_code, answer.json["code"]) == (400, "bad_header")


def test_a_replay_needs_the_token_as_much_as_the_write_did(shop: Shop, operator: Bench) -> None:
    register(shop, operator, key="a-1")
    assert register(shop, Bench(None), key="a-1").status_code == 401


def test_old_answers_are_forgotten(shop: Shop, operator: Bench) -> None:
    register(shop, operator, key="old")
    IdempotentReply.objects.update(at=NOON - timedelta(days=400))
    register(shop, operator, key="new", serial="C-10")
    call_command("forget_replies", days=30)
    assert [one.key for one in IdempotentReply.objects.all()] == ["new"]
