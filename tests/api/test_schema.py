"""The API's own description: valid, complete, and true of what the API answers."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.management import call_command
from django.test import Client
from jsonschema import Draft202012Validator
from openapi_spec_validator import validate

from api.webhooks import BODY
from qc.models import State
from tests.api.bench import Bench, gaps, mm, with_json
from tests.api.test_permissions import ADDRESSES, TABLE
from tests.make import FOUND, Shop, make_job
from tests.studies import check_gauge, closed_study, make_standard, make_study


@pytest.fixture(scope="module")
def document(tmp_path_factory: pytest.TempPathFactory) -> Any:
    path = tmp_path_factory.mktemp("schema") / "openapi.json"
    call_command(
        "spectacular", "--validate", "--fail-on-warn", "--format=openapi-json", f"--file={path}"
    )
    response = with_json(Client().get("/api/schema"))
    assert response.status_code == 200
    return response.json


def test_it_is_a_valid_description(document: Any) -> None:
    validate(document)
    assert document["openapi"].startswith("3.1")
    scheme = document["components"]["securitySchemes"]["benchToken"]
    assert (scheme["type"], scheme["scheme"]) == ("http", "bearer")


def test_it_tells_every_operation(document: Any) -> None:
    told = {
        (method.upper(), path)
        for path, operations in document["paths"].items()
        for method in operations
    }
    served = {
        (method, "/" + ADDRESSES[name].replace("<int:", "{").replace(">", "}"))
        for method, name in TABLE
    }
    assert told == served
    names = [one["operationId"] for _, one in operations(document)]
    assert len(set(names)) == len(names)
    assert all(one.get("description") for _, one in operations(document))


def test_it_tells_what_a_webhook_is_sent(document: Any) -> None:
    post = document["webhooks"]["flag"]["post"]
    assert [one["name"] for one in post["parameters"]] == [
        "webhook-id",
        "webhook-timestamp",
        "webhook-signature",
    ]
    assert post["requestBody"]["content"]["application/json"]["schema"] == BODY


def test_it_tells_what_goes_wrong(document: Any) -> None:
    for method, operation in operations(document):
        responses = operation["responses"]
        problems = {
            status
            for status, one in responses.items()
            if "application/problem+json" in one.get("content", {})
        }
        assert {"401", "406"} <= problems
        if method != "get":
            assert {"400", "415", "422"} <= problems
        needs_match = any(one["name"] == "If-Match" for one in operation.get("parameters", []))
        assert ({"412", "428"} <= problems) is needs_match


def test_numbers_of_length_are_text_with_a_unit(document: Any) -> None:
    length = document["components"]["schemas"]["LengthIn"]
    assert length["properties"]["value"]["type"] == "string"
    assert length["properties"]["unit"]["enum"] == ["mm", "in", "thou"]
    assert set(length["required"]) == {"value", "unit"}


@pytest.mark.django_db
def test_answers_have_the_form_it_tells(document: Any, shop: Shop, operator: Bench) -> None:
    job = make_job(shop, state=State.MEASURED)
    open_job = make_job(shop, serial="C-2", state=State.FOUND)
    fixture = f"fixtures/{shop.fixture.pk}"
    study = closed_study(shop)
    make_study(shop, name="Still read")
    check_gauge(shop, make_standard(shop), ["0.501", "0.502"])
    for path, form in {
        f"gauge-studies/{study.pk}": "StudyOut",
        f"gauge-studies/{study.pk + 1}": "StudyOut",
        "gauge-studies": "StudyRowPage",
        "standards": "StandardPage",
        f"gauges/{shop.gauge.pk}/checks": "CheckPage",
        f"gauges/{shop.gauge.pk}/standing": "StandingOut",
        f"jobs/{job.pk}": "JobOut",
        f"jobs/{open_job.pk}": "JobOut",
        "jobs": "JobRowPage",
        f"jobs/{job.pk}/journal": "JournalEntryPage",
        fixture: "FixtureOut",
        f"{fixture}/chart": "FlaggedFixtureChartOut",
        f"{fixture}/watched": "StandsOut",
        "recording-gains": "GainsOut",
        f"gauges/{shop.gauge.pk}": "GaugeOut",
        f"families/{shop.family.pk}": "FamilyOut",
        "charts/target_error": "ErrorChartOut",
        "me": "MeOut",
        "shop": "ShopOut",
        "nowhere": "Problem",
        "jobs?stat=open": "Problem",
    }.items():
        has_form(document, form, operator.get(path).json)
    body = {"readings": gaps(FOUND), "gauge_step": mm("0.01"), "target": mm("0.5")}
    planned = {**body, "floor": mm("0.42"), "gasket_found": mm("0.5"), "gasket_next": mm("0.5")}
    has_form(document, "PlanSumIn", planned)
    has_form(document, "PlanSumOut", operator.post("sums/plan", planned).json)


@pytest.mark.parametrize(
    ("length", "says"),
    [
        ({"value": 1.02, "unit": "mm"}, "is not of type"),
        ({"value": "1.02", "units": "mm"}, "Additional properties are not allowed"),
    ],
)
def test_a_wrong_form_would_be_seen(length: Any, says: str, document: Any) -> None:
    with pytest.raises(AssertionError, match=says):
        has_form(document, "LengthIn", length)


def operations(document: Any) -> list[tuple[str, Any]]:
    return [pair for one in document["paths"].values() for pair in one.items()]


def has_form(document: Any, name: str, answer: Any) -> None:
    form = {"$ref": f"#/components/schemas/{name}", "components": document["components"]}
    errors = list(Draft202012Validator(form).iter_errors(answer))
    assert not errors, [f"{one.json_path}: {one.message}" for one in errors]
