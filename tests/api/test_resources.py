"""The shop's own things over the API: registered, changed, serviced, retired."""

from __future__ import annotations

from typing import Any

import pytest

from qc.models import Gauge, ShopPolicy, ToolEdge
from tests.api.bench import Bench, mm
from tests.make import Shop, make_job


def test_a_gauge_and_its_calibration(shop: Shop, lead: Bench) -> None:
    made = lead.post(
        "gauges",
        {
            "name": "Inch mic",
            "serial": "A-17",
            "step": {"value": "0.0001", "unit": "in"},
            "calibration_due": "2026-01-31",
            "calibration_u": {"value": "0.05", "unit": "thou"},
        },
    )
    assert made.status_code == 201
    assert made.json["step"] == {**mm("0.00254"), "entered": {"value": "0.0001", "unit": "in"}}
    assert made.json["calibration_u"] == mm("0.00127")
    path = made.headers["Location"].removeprefix("/api/v1/")
    bare = lead.post(f"{path}/service", {"kind": "calibrated"})
    assert (bare.status_code, bare.json["fields"][0]["name"]) == (422, "calibration_due")
    done = lead.post(
        f"{path}/service",
        {
            "kind": "calibrated",
            "calibration_due": "2028-01-31",
            "as_found": mm("0.002"),
            "as_left": mm("-0.001"),
        },
    )
    assert (done.status_code, done.json["as_left"]) == (201, mm("-0.001"))
    assert lead.get(path).json["calibration_due"] == "2028-01-31"
    assert [one["kind"] for one in lead.get(f"{path}/service").json["results"]] == ["calibrated"]


def test_a_fresh_edge_retires_the_one_in_its_slot(shop: Shop, lead: Bench) -> None:
    body = {"lathe": shop.lathe.pk, "slot": "1", "name": "Insert 2", "edge_radius_um": 12.5}
    made = lead.post("edges", body)
    assert made.json["lathe"] == {"id": shop.lathe.pk, "name": "North lathe"}
    assert made.json["edge_radius_um"] == 12.5
    worn = lead.get(f"edges/{shop.edge.pk}")
    assert worn.json["retired_at"] is not None
    assert worn.headers["ETag"] == '"2"'
    assert ToolEdge.objects.count() == 2


REFUSED: dict[str, tuple[str, dict[str, Any], int, str, str]] = {
    "a name that is taken": ("fixtures", {"name": "plug a"}, 409, "already_there", "name"),
    "no name": ("fixtures", {"name": "  "}, 422, "blank", "name"),
    "a factor above one": (
        "lathes",
        {"name": "L", "dial_factor": 1.1},
        422,
        "bad_input",
        "dial_factor",
    ),
    "a factor of nought": (
        "lathes",
        {"name": "L", "dial_factor": 0},
        422,
        "bad_input",
        "dial_factor",
    ),
    "five jaws": ("fixtures", {"name": "F", "jaws": 5}, 422, "bad_input", "jaws"),
    "circles in one place": (
        "fixtures",
        {"name": "F", "planes_apart": mm("0")},
        422,
        "bad_input",
        "planes_apart",
    ),
    "a base before the fixture": (
        "fixtures",
        {"name": "F", "to_face": mm("-1")},
        422,
        "negative_length",
        "to_face",
    ),
    "a step of nought": ("gauges", {"name": "G", "step": mm("0")}, 422, "bad_input", "step"),
    "an uncertainty below nought": (
        "gauges",
        {"name": "G", "step": mm("0.01"), "calibration_u": mm("-0.001")},
        422,
        "bad_input",
        "calibration_u",
    ),
    "a day that is none": (
        "gauges",
        {"name": "G", "step": mm("0.01"), "calibration_due": "2026-02-30"},
        422,
        "invalid",
        "calibration_due",
    ),
    "a name too long": ("fixtures", {"name": "x" * 61}, 422, "max_length", "name"),
}


@pytest.mark.parametrize(("path", "body", "status", "code", "field"), REFUSED.values(), ids=REFUSED)
def test_it_is_refused(
    path: str, body: dict[str, Any], status: int, code: str, field: str, shop: Shop, lead: Bench
) -> None:
    answer = lead.post(path, body)
    assert (answer.status_code, answer.json["code"]) == (status, code), answer.content
    assert [one["name"] for one in answer.json["fields"]] == [field]


@pytest.mark.parametrize(
    ("change", "status", "code"),
    [
        ({"name": "South lathe"}, 409, "already_there"),
        ({"name": "NORTH LATHE"}, 200, None),
        ({"dial_factor": 0.5}, 200, None),
        ({"dial_factor": 1.5}, 422, "bad_input"),
        ({"name": " "}, 422, "blank"),
        ({"retired_at": None}, 422, "unknown_field"),
    ],
)
def test_a_change_obeys_the_rules_of_registering(
    change: dict[str, Any], status: int, code: str | None, shop: Shop, lead: Bench
) -> None:
    lead.post("lathes", {"name": "South lathe"})
    answer = lead.patch(f"lathes/{shop.lathe.pk}", change, match="*")
    assert (answer.status_code, answer.json.get("code")) == (status, code), answer.content


def test_the_geometry_of_a_fixture_and_an_edge(shop: Shop, lead: Bench) -> None:
    body = {"name": "Plug B", "planes_apart": mm("30"), "to_face": mm("12.5"), "jaws": 3}
    made = lead.post("fixtures", body)
    assert {name: made.json[name] for name in body} == body
    path = made.headers["Location"].removeprefix("/api/v1/")
    assert lead.patch(path, {"planes_apart": None}, match="*").json["planes_apart"] is None
    assert lead.patch(path, {"jaws": 2}, match="*").json["fields"][0]["name"] == "jaws"
    edge = f"edges/{shop.edge.pk}"
    assert lead.patch(edge, {"nose_radius": mm("0.8")}, match="*").json["nose_radius"] == mm("0.8")
    refused = lead.patch(edge, {"nose_radius": mm("0")}, match="*")
    assert refused.json["fields"][0]["name"] == "nose_radius"


def test_what_is_retired_is_not_retired_or_serviced_again(shop: Shop, lead: Bench) -> None:
    path = f"gauges/{shop.gauge.pk}"
    retired = lead.post(f"{path}/retire", {"why": "Dropped"}, match="*")
    assert retired.json["retired_at"] is not None
    assert lead.post(f"{path}/retire", {"why": "Again"}, match="*").json["code"] == "retired"
    assert lead.post(f"{path}/service", {"kind": "repaired"}).json["code"] == "retired"
    assert Gauge.objects.get().services.count() == 0


def test_service_of_the_wrong_kind(shop: Shop, lead: Bench) -> None:
    answer = lead.post(f"lathes/{shop.lathe.pk}/service", {"kind": "calibrated"})
    assert (answer.status_code, answer.json["fields"][0]["name"]) == (422, "kind")
    typo = lead.post(
        f"lathes/{shop.lathe.pk}/service", {"kind": "repaired", "calibration_due": "2027-01-01"}
    )
    assert typo.json["code"] == "unknown_field"


@pytest.mark.parametrize(
    ("change", "code", "field"),
    [
        ({"rod": mm("15.8")}, "rod_too_short", "rod"),
        ({"target": mm("0.41")}, "target_under_floor", "target"),
        ({"flange_min": mm("-1")}, "negative_length", "flange_min"),
        ({"tol_minus": mm("0")}, "bad_input", None),
        ({"bore": None}, "null", "bore"),
        ({"maker_floor": mm("0.55")}, "target_under_floor", "target"),
    ],
)
def test_a_family_that_cannot_be(
    change: dict[str, Any], code: str, field: str | None, shop: Shop, lead: Bench
) -> None:
    answer = lead.patch(f"families/{shop.family.pk}", change, match="*")
    assert (answer.status_code, answer.json["code"]) == (422, code), answer.content
    assert [one["name"] for one in answer.json["fields"]] == ([field] if field else [])


def test_a_family_changes_for_the_jobs_to_come(shop: Shop, lead: Bench) -> None:
    old = make_job(shop)
    change = {"target": {"value": "0.022", "unit": "in"}, "skirt_length": None}
    answer = lead.patch(f"families/{shop.family.pk}", change, match='"1"')
    # 0.022 x 25.4 = 0.5588
    assert (answer.json["target"], answer.json["skirt_length"]) == (mm("0.5588"), None)
    new = lead.post("jobs", {"cylinder": old.cylinder_id, "beside_open": True}).json
    assert new["limits"]["target"] == mm("0.5588")
    assert lead.get(f"jobs/{old.pk}").json["limits"]["target"] == mm("0.5")


def test_a_retired_family_opens_no_more_jobs(shop: Shop, lead: Bench) -> None:
    cylinder = make_job(shop).cylinder_id
    lead.post(f"families/{shop.family.pk}/retire", {"why": "No more parts"}, match="*")
    answer = lead.post("jobs", {"cylinder": cylinder})
    assert (answer.status_code, answer.json["code"]) == (422, "retired")
    again = lead.post(f"families/{shop.family.pk}/retire", {"why": "Again"}, match="*")
    assert again.json["code"] == "retired"


def test_a_cylinder_is_known_by_its_serial(shop: Shop, operator: Bench) -> None:
    body = {
        "family": shop.family.pk,
        "serial": "C-1",
        "earlier_cut": {"value": "4", "unit": "thou"},
        "customer_reference": "Blue one",
    }
    made = operator.post("cylinders", body)
    assert made.json["earlier_cut"] == mm("0.1016")
    assert operator.get(made.headers["Location"].removeprefix("/api/v1/")).json == made.json
    again = operator.post("cylinders", body)
    assert (again.status_code, again.json["code"]) == (409, "already_there")


def test_who_am_i_and_what_has_the_shop_chosen(shop: Shop, operator: Bench) -> None:
    me = operator.get("me").json
    assert (me["username"], me["role"], me["unit"]) == ("oskar", "operator", "mm")
    assert me["token"]["hint"].startswith("squish_")
    chosen = operator.get("shop").json
    assert (chosen["carry_through"], chosen["own_carry_through"]) == (None, None)
    assert chosen["evenness_limit"] == mm("0.06")
    assert (chosen["guard_factor"], chosen["overdue_gauge_is_refused"]) == (1.645, True)


def test_a_shop_that_has_chosen_nothing_yet_has_its_defaults(shop: Shop, operator: Bench) -> None:
    ShopPolicy.objects.all().delete()
    assert operator.get("shop").json["since"] is None
