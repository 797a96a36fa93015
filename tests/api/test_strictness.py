"""What is not exactly right is refused by name: no typo loses a reading, no float loses a digit."""

from __future__ import annotations

from typing import Any

import pytest

from qc.models import Job
from tests.api.bench import Bench, gaps, mm
from tests.make import FOUND, Shop, make_job


def as_found(shop: Shop, **changes: Any) -> dict[str, Any]:
    return {
        "gauge": shop.gauge.pk,
        "base_gasket": mm("0.50"),
        "readings": gaps(FOUND),
        **changes,
    }


def one_reading(length: Any, **more: Any) -> dict[str, Any]:
    return {"readings": [{"position_deg": 0, "length": length, **more}]}


WRONG: dict[str, tuple[dict[str, Any], str, str, str]] = {
    "a number for a length": (
        one_reading({"value": 1.02, "unit": "mm"}),
        "not_text",
        "readings.0.length.value",
        'in quotes, "1.02": a JSON number is held as a binary float',
    ),
    "a bare text for a length": (
        one_reading("1.02 mm"),
        "not_a_length",
        "readings.0.length",
        'Write a length as {"value": "1.02", "unit": "mm"}.',
    ),
    "digits that are none": (
        one_reading(mm("1.0e-3")),
        "not_a_length",
        "readings.0.length.value",
        'Could not read "1.0e-3" as a length.',
    ),
    "a comma that could mean two things": (
        one_reading(mm("1,020")),
        "comma_unclear",
        "readings.0.length.value",
        "Write the decimal with a point.",
    ),
    "finer than the record keeps": (
        one_reading({"value": "0.000001", "unit": "in"}),
        "too_many_places",
        "readings.0.length.value",
        "0.000001 in is finer than 0.00001 in",
    ),
    "beyond any length": (
        one_reading(mm("2000.1")),
        "length_too_large",
        "readings.0.length.value",
        "beyond 2000.000 mm",
    ),
    "an unknown unit": (
        one_reading({"value": "1.02", "unit": "cm"}),
        "invalid_choice",
        "readings.0.length.unit",
        '"cm" is not a valid choice.',
    ),
    "no unit": (
        one_reading({"value": "1.02"}),
        "required",
        "readings.0.length.unit",
        "This field is required.",
    ),
    "a misspelt field": (
        {"base_gaskett": mm("0.5")},
        "unknown_field",
        "base_gaskett",
        'No such field. Did you mean "base_gasket"?',
    ),
    "a misspelt field of a reading": (
        one_reading(mm("1.02"), peice=2),
        "unknown_field",
        "readings.0.peice",
        'Did you mean "piece"?',
    ),
    "text for a whole number": (
        one_reading(mm("1.02"), piece="1"),
        "not_whole",
        "readings.0.piece",
        "without quotes",
    ),
    "true for a whole number": (
        one_reading(mm("1.02"), piece=True),
        "not_whole",
        "readings.0.piece",
        "without quotes",
    ),
    "text for a position": (
        {"readings": [{"position_deg": "90", "length": mm("1.02")}]},
        "not_a_number",
        "readings.0.position_deg",
        "without quotes",
    ),
    "a position off the clock": (
        {"readings": [{"position_deg": 360.5, "length": mm("1.02")}]},
        "max_value",
        "readings.0.position_deg",
        "less than or equal to 360",
    ),
    "text for yes or no": (
        {"bolts_torqued": "yes"},
        "not_yes_or_no",
        "bolts_torqued",
        "true or false",
    ),
    "a number for text": ({"note": 7}, "not_text", "note", "in quotes"),
    "a nought in text": ({"note": "a\0b"}, "null_characters_not_allowed", "note", "Null"),
    "a gauge that is not there": ({"gauge": 999}, "not_found", "gauge", "No such gauge"),
    "a gauge by name": ({"gauge": "Micrometer 1"}, "not_whole", "gauge", "Send its number"),
    "a person who is not there": (
        {"measured_by": "nobody"},
        "not_found",
        "measured_by",
        "No such person",
    ),
    "null where a value must be": ({"base_gasket": None}, "null", "base_gasket", "may not be null"),
    "one object for many": (
        {"readings": {"position_deg": 0}},
        "not_a_list",
        "readings",
        "Expected a list",
    ),
}


@pytest.mark.parametrize(("changes", "code", "name", "says"), WRONG.values(), ids=WRONG.keys())
def test_the_field_at_fault_is_named(
    changes: dict[str, Any], code: str, name: str, says: str, shop: Shop, operator: Bench
) -> None:
    job = make_job(shop)
    answer = operator.post(f"jobs/{job.pk}/as-found", as_found(shop, **changes), match="*")
    assert answer.status_code == 422, answer.content
    assert answer.json["code"] == code
    [field] = answer.json["fields"]
    assert (field["name"], field["code"]) == (name, code)
    assert says in field["detail"]
    assert Job.objects.get().version == job.version


def test_every_field_at_fault_is_named_at_once(shop: Shop, operator: Bench) -> None:
    job = make_job(shop)
    body = {"gauge": "one", "readings": [{"length": mm("1.02")}]}
    answer = operator.post(f"jobs/{job.pk}/as-found", body, match="*")
    assert answer.json["code"] == "invalid"
    assert {one["name"]: one["code"] for one in answer.json["fields"]} == {
        "gauge": "not_whole",
        "base_gasket": "required",
        "readings.0.position_deg": "required",
    }


BROKEN = {
    "not JSON": ("{", "Expecting property name"),
    "a nought that is no number": ('{"note": NaN}', "NaN is not a JSON number"),
    "a name twice": ('{"note": "a", "note": "b"}', '"note" is given twice'),
    "half a character": ('{"note": "\\ud800"}', "surrogates not allowed"),
    "bytes that are no text": (b'{"note": "\xff"}', "can't decode"),
    "nested past all sense": ("[" * 100_000, "nested too deep"),
    "an exponent past all sense": ('{"note": 1.0e9999999999999999999}', "not JSON we can read"),
    "digits past all sense": ('{"note": ' + "9" * 5000 + "}", "not JSON we can read"),
}


@pytest.mark.parametrize(("text", "says"), BROKEN.values(), ids=BROKEN.keys())
def test_a_body_that_cannot_be_read(
    text: str | bytes, says: str, shop: Shop, operator: Bench
) -> None:
    answer = operator.send("POST", "jobs", text=text)
    assert (answer.status_code, answer.json["code"]) == (400, "parse_error")
    assert says in answer.json["detail"]


@pytest.mark.parametrize("body", [[], "text", 7, None, True])
def test_a_body_that_is_no_object(body: Any, shop: Shop, operator: Bench) -> None:
    answer = operator.post("jobs", body)
    assert answer.status_code == 422
    assert answer.json["fields"][0]["name"] in ("body", "cylinder")


def test_a_number_keeps_its_digits(shop: Shop, lead: Bench) -> None:
    """0.1 + 0.2 style noise would show in a factor read as a binary float: 0.70711 comes back."""
    answer = lead.send("POST", "lathes", text='{"name": "Compound", "dial_factor": 0.70711}')
    assert answer.status_code == 201
    assert b'"dial_factor":0.70711' in answer.content


@pytest.mark.parametrize(
    "query",
    [
        "stat=open",
        "state=closed",
        "limit=0",
        "limit=ten",
        "since=yesterday",
        "since=0001-01-01T00:00Z",
    ],
)
def test_a_filter_that_would_be_ignored_is_refused(query: str, shop: Shop, operator: Bench) -> None:
    answer = operator.get(f"jobs?{query}")
    assert answer.status_code == 422
    assert answer.json["fields"][0]["name"] == query.partition("=")[0]


@pytest.mark.parametrize(
    "cursor", ["%00", "abc", "cD1vcGVu", "bz0tMQ==", "cD05OTk5OTk5OTk5OTk5OTk5OTk5OQ=="]
)
def test_a_cursor_that_is_not_ours(cursor: str, shop: Shop, operator: Bench) -> None:
    answer = operator.get(f"jobs?cursor={cursor}")
    assert answer.status_code in (400, 422)
    assert answer.json["code"] in ("bad_cursor", "null_characters_not_allowed")


@pytest.mark.parametrize("number", ["0", "9" * 18, "9" * 30])
def test_a_number_past_any_row_is_simply_not_there(
    number: str, shop: Shop, operator: Bench
) -> None:
    assert operator.get(f"jobs/{number}").status_code == 404
    assert operator.get(f"jobs?family={number}").status_code in (200, 422)
