"""A fixture re-indicated at the lathe, as a bench tool reports it."""

from __future__ import annotations

from datetime import timedelta

from django.utils import timezone

from qc.models import Reindication, State
from qc.operations import reindicating
from tests.api.bench import Bench, mm
from tests.flagged import make_flag
from tests.make import Shop, make_job


def test_a_tool_reports_and_hears_what_a_lead_made_of_it(
    shop: Shop, operator: Bench, lead: Bench
) -> None:
    job = make_job(shop, state=State.SET_UP)
    flag = make_flag(job.rounds.get(), kind="fixture", key=shop.fixture.pk)
    where = f"fixtures/{shop.fixture.pk}/re-indicated"
    body = {"as_found": mm("0.08"), "as_left": mm("0.005"), "note": "A burr", "job": job.pk}
    made = operator.post(where, body)
    assert (made.status_code, made.json["by"], made.json["job"]) == (201, "oskar", job.pk)
    assert float(made.json["as_left"]["value"]) == 0.005
    assert made.json["answered"] is None
    assert operator.get(where).json["results"] == [made.json]
    again = operator.post(where, body)
    assert (again.status_code, again.json["code"]) == (422, "bad_input")
    assert "reported already" in again.json["detail"]
    reported = Reindication.objects.get()
    event = reindicating.confirm(
        reported=reported, by=shop.lead, at=timezone.now() + timedelta(hours=1)
    )
    [told] = operator.get(where).json["results"]
    assert (told["answered"]["by"], told["answered"]["service"]) == ("lena", event.pk)
    for service in (
        operator.get(f"fixtures/{shop.fixture.pk}/service").json["results"][0],
        operator.get(f"flags/{flag.pk}").json["service"],
    ):
        assert (service["by"], service["confirmed"]["by"]) == ("oskar", "lena")
        assert service["confirmed"]["job"] == job.pk
        assert service["at"] == made.json["at"] < service["confirmed"]["at"]


def test_a_report_sent_again_is_made_once(shop: Shop, operator: Bench) -> None:
    where, body = f"fixtures/{shop.fixture.pk}/re-indicated", {"as_left": mm("0.004")}
    first, again = (operator.post(where, body, key="re-1") for _ in range(2))
    assert (first.status_code, again.status_code) == (201, 201)
    assert first.content == again.content
    assert again.headers["Idempotency-Replayed"] == "true"
    assert Reindication.objects.count() == 1


def test_what_is_missing_or_of_another_fixture_is_named(
    shop: Shop, operator: Bench, lead: Bench
) -> None:
    other = lead.post("fixtures", {"name": "Plug B"}).json["id"]
    job = make_job(shop, state=State.SET_UP).pk
    for body, field in (({}, "as_left"), ({"as_left": mm("0"), "job": job}, "job")):
        refused = operator.post(f"fixtures/{other}/re-indicated", body)
        assert refused.json["fields"][0]["name"] == field, refused.json
    assert not Reindication.objects.exists()


def test_a_service_that_a_lead_recorded_was_confirmed_by_nobody(shop: Shop, lead: Bench) -> None:
    made = lead.post(f"fixtures/{shop.fixture.pk}/service", {"kind": "dressed"}).json
    assert (made["by"], made["confirmed"]) == ("lena", None)


def test_a_slip_in_what_was_left_is_asked_about_before_it_is_taken(
    shop: Shop, operator: Bench, lead: Bench
) -> None:
    where = f"fixtures/{shop.fixture.pk}/re-indicated"
    body = {"as_found": mm("0.08"), "as_left": {"value": "25", "unit": "thou"}}
    asked = operator.post(where, body)
    assert (asked.status_code, asked.json["code"]) == (422, "left_far_over")
    assert asked.json["fields"][0]["name"] == "as_left"
    assert not Reindication.objects.exists()
    assert operator.post(where, {**body, "confirm": True}).status_code == 201
    of_gauge = {"kind": "repaired", "as_found": mm("0.002"), "as_left": mm("0.02")}
    service = f"gauges/{shop.gauge.pk}/service"
    assert lead.post(service, of_gauge).json["code"] == "left_worse"
    assert lead.post(service, {**of_gauge, "confirm": True}).status_code == 201


def test_who_reported_it_corrects_it_or_takes_it_back(
    shop: Shop, operator: Bench, lead: Bench
) -> None:
    where = f"fixtures/{shop.fixture.pk}/re-indicated"
    made = operator.post(where, {"as_found": mm("0.08"), "as_left": mm("0.005")}).json
    own = f"{where}/{made['id']}"
    told = operator.post(f"{own}/correct", {"as_left": mm("0.007"), "note": "Dirt"}).json
    assert told == {**made, "as_found": None, "as_left": mm("0.007"), "note": "Dirt"}
    refused = lead.post(f"{own}/correct", {"as_left": mm("0.006")})
    assert (refused.status_code, refused.json["code"]) == (403, "not_your_report")
    other = lead.post("fixtures", {"name": "Plug B"}).json["id"]
    elsewhere = f"fixtures/{other}/re-indicated/{made['id']}/take-back"
    assert operator.post(elsewhere, {}).status_code == 404
    gone = operator.post(f"{own}/take-back", {}).json
    assert (gone["answered"]["by"], gone["answered"]["service"]) == ("oskar", None)
    again = operator.post(f"{own}/take-back", {})
    assert "answered that report already" in again.json["detail"]
