"""A lead keeps the lathes, edges, gauges and fixtures; what was typed is never lost."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client

from qc.models import (
    Gauge,
    Lathe,
    ServiceEvent,
    ToolEdge,
)
from tests.dashboards.pages import as_shown, filled
from tests.make import Shop

KINDS = ("lathe", "edge", "gauge", "fixture")


def test_a_lathe_is_registered_and_a_taken_name_keeps_what_was_typed(
    shop: Shop, lead: Client
) -> None:
    where = "/shop/lathes/new"
    taken = lead.post(where, {"name": "north lathe", "dial_factor": "0.5", "note": "By the door"})
    assert taken.status_code == 422
    assert "exists already" in taken.text
    for typed in ("north lathe", "0.5", "By the door"):
        assert typed in taken.text
    done = lead.post(where, {"name": "South lathe", "dial_factor": "0.5"}, follow=True)
    assert done.redirect_chain == [("/shop/lathes", 302)]
    assert Lathe.objects.get(name="South lathe").dial_factor == Decimal("0.5")


def test_an_impossible_dial_factor_is_marked_on_its_field(shop: Shop, lead: Client) -> None:
    answer = lead.post("/shop/lathes/new", {"name": "South lathe", "dial_factor": "1.2"})
    assert answer.status_code == 422
    assert "dial_factor" in answer.context["form"].errors


def test_a_gauge_is_registered_with_its_step_as_typed(shop: Shop, lead: Client) -> None:
    sent = {"name": "Inch mike", "step": "0.0005 in", "calibration_u_mm": "0.05 thou"}
    assert lead.post("/shop/gauges/new", sent).status_code == 302
    gauge = Gauge.objects.get(name="Inch mike")
    assert (gauge.step_value, gauge.step_unit) == ("0.0005", "in")
    assert gauge.step_mm == Decimal("0.0127")
    assert gauge.calibration_u_mm == Decimal("0.00127")
    assert gauge.calibration_due is None


def test_a_step_of_nothing_or_of_words_is_refused(shop: Shop, lead: Client) -> None:
    for step, said in (("0", "above zero"), ("fine", "as a length"), ("-1", "never negative")):
        sent = {"name": "Mike", "step": step, "calibration_u_mm": "0"}
        answer = lead.post("/shop/gauges/new", sent)
        assert answer.status_code == 422
        assert said in answer.text
    assert Gauge.objects.count() == 1


def test_a_fresh_edge_retires_the_one_in_its_slot(shop: Shop, lead: Client) -> None:
    where = f"/shop/edges/new?lathe={shop.lathe.pk}&slot=1"
    sent = filled(lead, where, name="Insert 2", edge_radius_um="15")
    assert (sent["lathe"], sent["slot"]) == (str(shop.lathe.pk), "1")
    done = lead.post(where, sent, follow=True)
    assert "Insert 2 is fitted" in done.text
    shop.edge.refresh_from_db()
    assert shop.edge.is_retired
    assert ToolEdge.objects.get(retired_at=None).name == "Insert 2"


def test_an_edge_without_a_lathe_keeps_what_was_typed(shop: Shop, lead: Client) -> None:
    answer = lead.post(
        "/shop/edges/new", filled(lead, "/shop/edges/new?slot=2", name="Bit", edge_radius_um="15")
    )
    assert answer.status_code == 422
    assert 'value="Bit"' in answer.text
    assert answer.context["form"].errors.keys() == {"lathe"}


def test_a_change_saves_only_what_was_changed(shop: Shop, lead: Client) -> None:
    where = f"/shop/gauges/{shop.gauge.pk}/change"
    sent = filled(lead, where, serial="M-9")
    done = lead.post(where, sent, follow=True)
    assert "The gauge is changed." in done.text
    shop.gauge.refresh_from_db()
    assert (shop.gauge.serial, shop.gauge.version) == ("M-9", 2)
    assert "M-9" in done.text
    lead.post(where, filled(lead, where))
    shop.gauge.refresh_from_db()
    assert shop.gauge.version == 2


def test_the_second_of_two_leads_sees_what_the_first_saved(shop: Shop, lead: Client) -> None:
    where = f"/shop/fixtures/{shop.fixture.pk}/change"
    seen = filled(lead, where)
    lead.post(where, {**seen, "note": "Turned true on Monday"})
    conflict = lead.post(where, {**seen, "note": "Bought second hand"})
    assert conflict.status_code == 409
    assert "Someone else saved" in conflict.text
    assert "On record now: Turned true on Monday" in conflict.text
    assert "Bought second hand" in conflict.text
    shop.fixture.refresh_from_db()
    assert shop.fixture.note == "Turned true on Monday"
    assert lead.post(where, as_shown(conflict.context["form"])).status_code == 302
    shop.fixture.refresh_from_db()
    assert shop.fixture.note == "Bought second hand"


@pytest.mark.parametrize("kind", KINDS)
def test_retiring_needs_a_reason_and_is_told_afterwards(
    shop: Shop, lead: Client, kind: str
) -> None:
    where = f"/shop/{kind}s/{getattr(shop, kind).pk}"
    bare = lead.post(f"{where}/retire", {"why": " "})
    assert bare.status_code == 422
    assert "Say why it is retired." in bare.text
    done = lead.post(f"{where}/retire", {"why": "Dropped"}, follow=True)
    assert "Dropped" in done.text
    assert f"{where}/change" not in done.text
    again = lead.post(f"{where}/retire", {"why": "Twice over"})
    assert again.status_code == 422
    assert "Twice over" in again.text


def test_a_calibration_asks_when_the_next_is_due_and_keeps_the_rest(
    shop: Shop, lead: Client
) -> None:
    where = f"/shop/gauges/{shop.gauge.pk}/service"
    sent = {"kind": "calibrated", "as_found_mm": "0.002", "note": "Block set 4"}
    bare = lead.post(where, sent)
    assert bare.status_code == 422
    assert bare.context["form"].errors.keys() == {"calibration_due"}
    assert "Block set 4" in bare.text
    assert ServiceEvent.objects.count() == 0
    done = lead.post(
        where,
        {**sent, "calibration_due": "2028-01-31", "calibration_u_mm": "0.0008"},
        follow=True,
    )
    assert "Block set 4" in done.text
    shop.gauge.refresh_from_db()
    assert shop.gauge.calibration_due is not None
    assert shop.gauge.calibration_due.isoformat() == "2028-01-31"
    assert shop.gauge.calibration_u_mm == Decimal("0.0008")


def test_a_kind_of_service_that_does_not_fit_is_not_offered(shop: Shop, lead: Client) -> None:
    where = f"/shop/lathes/{shop.lathe.pk}/service"
    assert "Calibrated" not in lead.get(where).text
    assert lead.post(where, {"kind": "calibrated"}).status_code == 422
    assert lead.post(where, {**filled(lead, where), "kind": "repaired"}).status_code == 302
    assert ServiceEvent.objects.get().kind == "repaired"


def test_an_edge_has_a_nose_and_a_fixture_its_two_circles(shop: Shop, lead: Client) -> None:
    edge = f"/shop/edges/{shop.edge.pk}/change"
    assert lead.post(edge, filled(lead, edge, nose_radius_mm="0.8")).status_code == 302
    blunt = lead.post(edge, filled(lead, edge, nose_radius_mm="0"))
    assert blunt.context["form"].errors == {"nose_radius_mm": ["This is above zero."]}
    fixture = f"/shop/fixtures/{shop.fixture.pk}/change"
    assert (
        lead.post(fixture, filled(lead, fixture, planes_apart_mm="50", jaws="3")).status_code == 302
    )
    shop.edge.refresh_from_db()
    shop.fixture.refresh_from_db()
    assert shop.edge.nose_radius_mm == Decimal("0.8")
    assert (shop.fixture.planes_apart_mm, shop.fixture.jaws) == (Decimal(50), 3)


def test_a_lathe_is_adjusted_or_repaired(shop: Shop, lead: Client) -> None:
    where = f"/shop/lathes/{shop.lathe.pk}/service"
    page = lead.get(where).text
    for words in ("Adjusted: stop, gibs or dial", "Repaired"):
        assert f"<span>{words}</span>" in page
    done = lead.post(where, {"kind": "adjusted", "note": "Gibs taken up"}, follow=True)
    assert ServiceEvent.objects.get().kind == "adjusted"
    assert "<b>Adjusted</b>" in done.text
    other = lead.post(f"/shop/fixtures/{shop.fixture.pk}/service", {"kind": "adjusted"})
    assert other.status_code == 422


@pytest.mark.parametrize(
    ("kind", "asked"),
    [
        ("fixture", "Side to side on the dial, before."),
        ("gauge", "Its error against a standard, before: plus where it reads too much."),
        ("lathe", None),
        ("edge", None),
    ],
)
def test_lengths_are_asked_for_where_they_mean_something_and_in_its_own_words(
    shop: Shop, lead: Client, kind: str, asked: str | None
) -> None:
    page = lead.get(f"/shop/{kind}s/{getattr(shop, kind).pk}/service")
    names = {"as_found_mm", "as_left_mm"}
    there = names & set(page.context["form"].fields)
    assert there == (names if asked else set())
    told = {"Side to side on the dial", "Its error against a standard"}
    assert [one for one in told if one in page.text] == [
        one for one in told if one in (asked or "")
    ]
    assert ("A bare length is in" in page.text) is (asked is not None)
