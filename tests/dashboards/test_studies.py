"""Gauge studies and checks through their pages: blind while open, one reading after another, and
what a closed one says."""

from __future__ import annotations

import json
import re
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client

from qc.lookups.gauges.gauge_studies import next_turn, study_record
from qc.models import GaugeCheck, GaugeStudy, Standard, State, StudyReading, StudyUse
from qc.operations import resources, study_use
from qc.units import mm
from tests.dashboards.counting import queries_of
from tests.dashboards.pages import SignedIn, form_on, send, send_again
from tests.make import NOON, Shop, make_job
from tests.studies import (
    check_gauge,
    closed_study,
    make_standard,
    make_study,
    read_study,
)


def opening(shop: Shop, **changes: Any) -> dict[str, Any]:
    return {
        "name": "Spring",
        "gauges": [shop.gauge.pk],
        "people": [shop.operator.person.pk, shop.lead.person.pk],
        "pieces_are": "crushed solder",
        "repeats": "same_piece",
        "parts": "4",
        "trials": "2",
        "nominal": "20 thou",
        "tolerance": "0.10",
        "note": "",
        **changes,
    }


@pytest.fixture
def study(shop: Shop) -> GaugeStudy:
    return make_study(shop, parts=3, people=[shop.operator.person, shop.lead.person])


def test_a_lead_opens_a_study(shop: Shop, lead: Client) -> None:
    answer = lead.post("/shop/studies/new", opening(shop))
    study = GaugeStudy.objects.get()
    assert answer.headers["Location"] == f"/shop/studies/{study.pk}"
    assert (str(study.nominal_mm), study.tolerance_value) == ("0.508000", "0.10")
    assert study.turns.count() == 16


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"people": []}, "required"),
        ({"people": ["1"]}, "nobody to differ from"),
        ({"gauges": ["999"]}, "not one of the available choices"),
        ({"parts": "1"}, "greater than or equal to 2"),
        ({"parts": "many"}, "whole number"),
        ({"repeats": ""}, "required"),
        ({"tolerance": "0"}, "above zero"),
        ({"nominal": "about half"}, "Could not read"),
    ],
)
def test_a_refused_study_keeps_what_was_typed(
    shop: Shop, lead: Client, changes: dict[str, Any], said: str
) -> None:
    if changes.get("people") == ["1"]:
        changes = {"people": [shop.lead.person.pk]}
    answer = lead.post("/shop/studies/new", opening(shop, **changes))
    assert answer.status_code == 422
    assert said in answer.text
    assert 'value="Spring"' in answer.text
    assert not GaugeStudy.objects.exists()


def test_a_hand_reads_one_piece_after_another(shop: Shop, bench: Client, study: GaugeStudy) -> None:
    here = f"/shop/studies/{study.pk}/read"
    for number in range(1, 7):
        page = bench.get(here)
        turn = next_turn(study, shop.operator.person)
        assert turn is not None
        assert f"reading {number} of 6" in page.text
        assert page.context["turn"] == turn
        answer = send(bench, here, {"length": f"0.51{number}"}, holding="turn")
        assert answer.status_code == 302
    assert bench.get(here).headers["Location"] == f"/shop/studies/{study.pk}"
    assert StudyReading.objects.count() == 6


def test_nobody_sees_what_was_read_while_a_study_is_open(
    shop: Shop, signed_in: SignedIn, study: GaugeStudy
) -> None:
    read_study(study, lambda turn: "0.5137", by=shop.operator, most=8)
    for role in ("viewer", "operator", "lead"):
        client = signed_in(role)
        for address in (f"/shop/studies/{study.pk}", f"/shop/studies/{study.pk}/read", "/shop"):
            assert "5137" not in client.get(address, follow=True).text, (role, address)
        assert client.get(f"/shop/studies/{study.pk}/dots.json").status_code == 404
    study_use.close_study(study=study, by=shop.lead, at=NOON, why="Enough")
    assert "5137" in signed_in("viewer").get(f"/shop/studies/{study.pk}").text


def test_a_doubtful_unit_is_asked_about_and_confirmed(
    shop: Shop, bench: Client, study: GaugeStudy
) -> None:
    here = f"/shop/studies/{study.pk}/read"
    doubted = send(bench, here, {"length": "20"}, holding="turn")
    assert doubted.status_code == 422
    assert form_on(doubted.text, "turn")["length"] == "20"
    assert not StudyReading.objects.exists()
    assert send_again(bench, doubted, {"unit": "thou"}, holding="turn").status_code == 302
    assert str(StudyReading.objects.get().value_mm) == "0.508000"


def test_a_reading_sent_twice_is_saved_once_and_never_for_the_next_piece(
    shop: Shop, bench: Client, study: GaugeStudy
) -> None:
    here = f"/shop/studies/{study.pk}/read"
    sent = {**form_on(bench.get(here).text, "turn"), "length": "0.517"}
    bench.post(here, sent)
    again = bench.post(here, sent, follow=True)
    assert StudyReading.objects.count() == 1
    assert "0.517 mm was not saved" in again.text
    assert form_on(again.text, "turn")["length"] == ""


def test_a_person_who_is_no_hand_of_the_study_is_sent_to_its_page(
    shop: Shop, bench: Client
) -> None:
    study = make_study(shop, people=[shop.lead.person], gauges=[shop.gauge, second_gauge(shop)])
    assert bench.get(f"/shop/studies/{study.pk}/read").headers["Location"].endswith(str(study.pk))
    for_her = f"/shop/studies/{study.pk}/read?person={shop.lead.person.pk}"
    assert send(bench, for_her, {"length": "0.5"}, holding="turn").status_code == 302
    reading = StudyReading.objects.get()
    assert (reading.turn.person, reading.by) == (shop.lead.person, shop.operator.person)


def second_gauge(shop: Shop) -> Any:
    return resources.register_gauge(name="Second", step=mm("0.001"), by=shop.lead, at=NOON)


def test_a_mistake_is_voided_with_a_reason(shop: Shop, bench: Client, study: GaugeStudy) -> None:
    here = f"/shop/studies/{study.pk}"
    send(bench, f"{here}/read", {"length": "0.517"}, holding="turn")
    reading = StudyReading.objects.get()
    page = bench.get(f"{here}/read").text
    assert f"{here}/readings/{reading.pk}/void" in page
    refused = bench.post(f"{here}/readings/{reading.pk}/void", {"why": " "})
    assert refused.status_code == 422
    assert bench.post(f"{here}/readings/{reading.pk}/void", {"why": "Slip"}).status_code == 302
    assert bench.get(f"{here}/read").context["turn"] == reading.turn


def test_a_closed_study_answers_in_a_machinists_words(shop: Shop, lead: Client) -> None:
    study = closed_study(shop)
    record = study_record(study)
    result = record.result
    assert result is not None
    text = re.sub(r"\s+", " ", lead.get(f"/shop/studies/{study.pk}").text.replace("\xa0", " "))
    share = f"{record.two_hands_share * 100:.0f}"
    assert f"differ by up to {result['two_hands_mm']:.3f} mm: {share} % of your tolerance" in text
    assert "counted as repeatability" in text or "counted on its own" in text
    figure = json.loads(lead.get(f"/shop/studies/{study.pk}/dots.json").content)
    names = [trace["name"] for trace in figure["data"]]
    assert names == ["Lena", "Oskar", "Pia", "95 of 100 readings"]
    assert lead.post(f"/shop/studies/{study.pk}/take", {"why": ""}).status_code == 422
    assert lead.post(f"/shop/studies/{study.pk}/take", {"why": "Ours"}).status_code == 302
    assert "the shop's own" in lead.get("/shop/studies").text
    StudyUse.objects.update(at=NOON)  # the page took it now; the job is of the next day
    job = make_job(shop, state=State.MEASURED, at=NOON + timedelta(days=1))
    assert "gauge study of 2 March 2026" in lead.get(f"/jobs/{job.pk}").text


def test_a_study_that_shows_nothing_says_why(shop: Shop, lead: Client, study: GaugeStudy) -> None:
    assert lead.post(f"/shop/studies/{study.pk}/close", {"why": ""}).status_code == 422
    assert lead.post(f"/shop/studies/{study.pk}/close", {"why": "No time"}).status_code == 302
    page = lead.get(f"/shop/studies/{study.pk}").text
    assert "No result" in page
    assert f"/shop/studies/{study.pk}/take" not in page


def test_the_list_costs_the_same_for_many(shop: Shop, bench: Client) -> None:
    for n in range(3):
        make_study(shop, name=f"few {n}", parts=2)
    few = queries_of(bench, "/shop/studies")
    for n in range(12):
        make_study(shop, name=f"many {n}", parts=2)
    assert queries_of(bench, "/shop/studies") == few


def test_a_standard_is_registered_and_a_gauge_checked_on_it(
    shop: Shop, lead: Client, bench: Client
) -> None:
    typed = {"name": "Block A", "size": "0.5000", "u_mm": "0.0002", "note": ""}
    assert lead.post("/shop/standards/new", typed).status_code == 302
    standard = Standard.objects.get()
    assert (standard.value_value, str(standard.u_mm)) == ("0.5000", "0.000200")
    twice = lead.post("/shop/standards/new", typed)
    assert twice.status_code == 422
    assert "exists already" in twice.text
    here = f"/shop/gauges/{shop.gauge.pk}/check"
    answer = send(bench, here, {"standard": standard.pk, "length": "0.503"}, holding="standard")
    assert answer.headers["Location"] == f"{here}?standard={standard.pk}"
    doubted = send(bench, here, {"standard": standard.pk, "length": "20"}, holding="standard")
    assert doubted.status_code == 422
    assert GaugeCheck.objects.count() == 1
    page = bench.get(f"/shop/gauges/{shop.gauge.pk}").text
    assert "Read it again to be sure" in page
    check = GaugeCheck.objects.get()
    void = f"/shop/gauges/{shop.gauge.pk}/checks/{check.pk}/void"
    assert bench.post(void, {"why": "Dirty"}).status_code == 302
    assert "Void: Dirty" in bench.get(f"/shop/gauges/{shop.gauge.pk}").text


def test_a_gauge_that_drifts_says_so_and_that_its_interval_is_too_long(
    shop: Shop, bench: Client
) -> None:
    values = [f"{0.500 + 0.002 * n:.3f}" for n in range(10)]
    check_gauge(shop, make_standard(shop), values, days=14)
    page = bench.get(f"/shop/gauges/{shop.gauge.pk}").text.replace("\xa0", " ")
    assert "+0.052 mm a year" in page
    assert "calibration interval looks too long" in page
    figure = json.loads(bench.get(f"/shop/gauges/{shop.gauge.pk}/checks.json").content)
    assert [trace["name"] for trace in figure["data"] if trace.get("name")] == [
        "Block 0.5",
        "drift",
        "what a calibration is to hold",
    ]
