"""Gauge studies and checks over the API: a whole study, blind while open, and each refusal."""

from __future__ import annotations

from typing import Any

import pytest

from qc.models import GaugeStudy, StudyReading
from tests.api.bench import Bench, mm
from tests.api.test_permissions import study_of
from tests.make import NOON, Shop
from tests.studies import check_gauge, closed_study, make_standard, make_study, scattered


def thou(value: str) -> dict[str, str]:
    return {"value": value, "unit": "thou"}


def test_a_study_from_opening_to_the_shops_own(shop: Shop, operator: Bench, lead: Bench) -> None:
    opened = lead.post("gauge-studies", study_of(shop, {}), key="open-1")
    assert opened.status_code == 201
    path = str(opened.headers["Location"]).removeprefix("/api/v1/")
    assert lead.post("gauge-studies", study_of(shop, {}), key="open-1").json == opened.json
    assert GaugeStudy.objects.count() == 1
    reads = scattered(shop)
    told = opened.json
    while waiting := [hand["next"] for hand in told["hands"] if hand["next"]]:
        turn = GaugeStudy.objects.get().turns.get(order=waiting[0]["turn"])
        answer = operator.post(
            f"{path}/trials", {"turn": turn.order, "length": mm(reads(turn))}, key=f"t-{turn.order}"
        )
        assert answer.status_code == 201, answer.json
        told = answer.json
        assert {one["length"] for one in told["readings"]} == {None}
    assert StudyReading.objects.count() == 16
    repeated = operator.post(f"{path}/trials", {"turn": turn.order, "length": mm("0.5")}, key="new")
    assert (repeated.status_code, repeated.json["code"]) == (409, "already_there")
    closed = lead.post(f"{path}/close", {}).json
    assert closed["readings"][0]["length"]["entered"]["unit"] == "mm"
    assert closed["result"]["interaction"]["pooled_above_p"] == 0.25
    assert float(closed["result"]["two_hands"]["value"]) > 0
    taken = lead.post(f"{path}/take", {"why": "First of the year"}).json
    assert [use["taken"] for use in taken["uses"]] == [True]
    assert "4 parts x 2 people x 2" in taken["uses"][0]["says"]
    aside = lead.post(f"{path}/set-aside", {"why": "New gauge"}).json
    assert [use["taken"] for use in aside["uses"]] == [True, False]


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"repeats": "sometimes"}, "repeats"),
        ({"gauges": []}, "gauges"),
        ({"gauges": [9999]}, "gauges.0"),
        ({"people": ["nobody", "lena"]}, "people.0"),
        ({"people": ["vera", "lena"]}, "people"),
        ({"parts": "4"}, "parts"),
        ({"parts": 0}, "parts"),
        ({"tolerance": mm("0")}, "tolerance"),
        ({"nominal": {"value": 0.5, "unit": "mm"}}, "nominal.value"),
        ({"seed": 4}, "seed"),
    ],
)
def test_a_study_that_cannot_be_is_refused_by_field(
    changes: dict[str, Any], field: str, shop: Shop, lead: Bench
) -> None:
    answer = lead.post("gauge-studies", {**study_of(shop, {}), **changes})
    assert answer.status_code == 422
    assert [one["name"] for one in answer.json["fields"]] == [field]
    assert not GaugeStudy.objects.exists()


def test_trials_out_of_turn_in_doubt_or_too_late(shop: Shop, operator: Bench, lead: Bench) -> None:
    study = make_study(shop)
    path = f"gauge-studies/{study.pk}"
    first = study.turns.get(order=1)
    later = study.turns.filter(person=first.person, order__gt=1).first()
    assert later is not None
    for turn, length, status, code in (
        (later.order, mm("0.5"), 409, "not_its_turn"),
        (999, mm("0.5"), 404, "not_found"),
        (1, thou("0.5"), 422, "unit_doubtful"),
        (1, mm("-1"), 422, "negative_length"),
    ):
        answer = operator.post(f"{path}/trials", {"turn": turn, "length": length})
        assert (answer.status_code, answer.json["code"]) == (status, code)
    left = operator.post(f"{path}/turns/1/leave-out", {"why": "Piece lost"})
    assert left.status_code == 200
    assert lead.post(f"{path}/close", {}).json["code"] == "reason_needed"
    shut = lead.post(f"{path}/close", {"why": "Not now"}).json
    assert shut["result"] is None
    assert shut["refused"]
    answer = operator.post(f"{path}/trials", {"turn": 2, "length": mm("0.5")})
    assert (answer.status_code, answer.json["code"]) == (409, "study_closed")
    assert lead.post(f"{path}/take", {"why": "So"}).json["code"] == "no_result_to_take"


def test_a_reading_of_another_study_is_not_found(shop: Shop, lead: Bench) -> None:
    closed_study(shop)
    other = make_study(shop, name="Other")
    reading = StudyReading.objects.latest("pk")
    answer = lead.post(f"gauge-studies/{other.pk}/trials/{reading.pk}/void", {"why": "x"})
    assert answer.status_code == 404


def test_checks_and_how_a_gauge_stands(shop: Shop, operator: Bench) -> None:
    standard = make_standard(shop)
    path = f"gauges/{shop.gauge.pk}"
    body = {"standard": standard.pk, "length": mm("0.503")}
    first = operator.post(f"{path}/checks", body, key="c-1")
    assert (first.status_code, first.json["off"]) == (201, mm("0.003"))
    assert operator.post(f"{path}/checks", body, key="c-1").json == first.json
    odd = operator.post(f"{path}/checks", {"standard": standard.pk, "length": thou("0.50")})
    assert (odd.status_code, odd.json["code"]) == (422, "unit_doubtful")
    check_gauge(shop, standard, ["0.502", "0.504"], at=NOON)
    told = operator.get(f"{path}/standing").json
    [bias] = told["biases"]
    assert (bias["bias"], bias["readings"]) == (mm("0.003"), 3)
    assert told["linearity"] is None
    assert (told["drift"]["answer"], told["drift"]["checks_wanted"]) == ("thin", 5)
    void = operator.post(f"{path}/checks/{first.json['id']}/void", {"why": "Dirty block"})
    assert void.json["void_reason"] == "Dirty block"
    again = operator.post(f"{path}/checks/{first.json['id']}/void", {"why": "Dirty block"})
    assert (again.status_code, again.json["code"]) == (409, "already_void")
    assert len(operator.get(f"{path}/checks").json["results"]) == 3


def test_only_standards_in_use_are_listed_when_asked(shop: Shop, lead: Bench) -> None:
    kept, gone = make_standard(shop), make_standard(shop, "Block 1", "1.000")
    assert lead.post(f"standards/{gone.pk}/retire", {"why": "Nicked"}).status_code == 200
    listed = lead.get("standards?retired=false").json["results"]
    assert [one["id"] for one in listed] == [kept.pk]
    refused = lead.post(
        f"gauges/{shop.gauge.pk}/checks", {"standard": gone.pk, "length": mm("1.001")}
    )
    assert refused.json["code"] == "retired"
