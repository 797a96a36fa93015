"""A lead keeps the engine families: lengths in any unit, windows, burette readings."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client

from qc.models import (
    EngineFamily,
    ShopPolicy,
)
from tests.clocked import FAR_LEAN, clocked_job, two_planes
from tests.dashboards.pages import filled, form_on
from tests.make import ALDER, Shop, make_job

BIRCH = {
    "name": "Birch 71",
    "note": "",
    "bore_mm": "49.3",
    "stroke_mm": "37.1",
    "rod_mm": "64.8",
    "target_mm": "0.53",
    "tol_minus_mm": "2 thou",
    "tol_plus_mm": "2 thou",
    "floor_mm": "0.45",
    "gasket_mm": "0",
    "measuring_radius_mm": "22.2",
}


def test_a_family_is_added_from_lengths_in_any_unit(shop: Shop, lead: Client) -> None:
    done = lead.post("/shop/families/new", BIRCH, follow=True)
    assert "Birch 71" in done.text
    family = EngineFamily.objects.get(name="Birch 71")
    assert family.tol_plus_mm == Decimal("0.0508")
    assert family.maker_floor_mm is None


@pytest.mark.parametrize(
    ("change", "field", "said"),
    [
        ({"target_mm": "0.40"}, "target_mm", "under the floor"),
        ({"rod_mm": "18"}, "rod_mm", "cannot turn a crank"),
        ({"name": "alder 46"}, "name", "exists already"),
        ({"bore_mm": ""}, "bore_mm", "required"),
        ({"skirt_length_mm": "-3"}, "skirt_length_mm", "never negative"),
    ],
)
def test_a_family_that_cannot_be_keeps_everything_typed(
    shop: Shop, lead: Client, change: dict[str, str], field: str, said: str
) -> None:
    answer = lead.post("/shop/families/new", {**BIRCH, **change})
    assert answer.status_code == 422
    assert field in answer.context["form"].errors
    assert said in answer.text
    for typed in {**BIRCH, **change}.values():
        assert f'value="{typed}"' in answer.text or not typed
    assert EngineFamily.objects.count() == 1


def test_a_folded_group_opens_where_something_is_wrong(shop: Shop, lead: Client) -> None:
    assert '<details class="folded" open>' not in lead.get("/shop/families/new").text
    answer = lead.post("/shop/families/new", {**BIRCH, "rpm_free": "fast"})
    assert answer.text.count('<details class="folded" open>') == 1


def test_a_family_is_changed_for_the_jobs_to_come(shop: Shop, lead: Client) -> None:
    job = make_job(shop)
    where = f"/shop/families/{shop.family.pk}/change"
    done = lead.post(where, filled(lead, where, target_mm="0.55"), follow=True)
    assert "for the jobs to come" in done.text
    job.refresh_from_db()
    assert job.target_mm == ALDER["target_mm"]
    shop.family.refresh_from_db()
    assert shop.family.target_mm == Decimal("0.55")


def test_two_leads_at_one_family(shop: Shop, lead: Client) -> None:
    where = f"/shop/families/{shop.family.pk}/change"
    seen = filled(lead, where)
    lead.post(where, {**seen, "target_mm": "0.55"})
    conflict = lead.post(where, {**seen, "floor_mm": "0.43"})
    assert conflict.status_code == 409
    assert "On record now: 0.550 mm" in conflict.text


def window(n: int, *values: str) -> dict[str, str]:
    names = ("name", "centre_deg", "half_width_deg", "upper_mm", "lower_mm")
    return {f"{name}_{n}": value for name, value in zip(names, values, strict=True)}


def test_windows_are_kept_row_by_row_and_an_empty_row_is_none(shop: Shop, lead: Client) -> None:
    where = f"/shop/families/{shop.family.pk}/windows"
    transfer = window(0, "Left transfer", "105", "28", "25.7", "31.6")
    done = lead.post(
        where, {**transfer, **window(2, "Boost", "180", "20", "1 in", "31")}, follow=True
    )
    assert "Left transfer" in done.text
    assert [str(one.upper_mm) for one in shop.family.windows.all()] == ["25.700000", "25.400000"]
    kept = filled(lead, where)
    assert lead.post(where, {**kept, **window(0, "", "", "", "", "")}).status_code == 302
    assert [one.name for one in shop.family.windows.all()] == ["Boost"]


def test_a_window_half_filled_or_upside_down_keeps_what_was_typed(shop: Shop, lead: Client) -> None:
    where = f"/shop/families/{shop.family.pk}/windows"
    half = lead.post(where, window(0, "Left transfer", "105", "", "25.7", "31.6"))
    assert half.status_code == 422
    assert half.context["form"].errors.keys() == {"half_width_deg_0"}
    over = lead.post(where, window(1, "Left transfer", "105", "28", "31.6", "25.7"))
    assert over.context["form"].errors.keys() == {"lower_mm_1"}
    assert 'value="Left transfer"' in over.text
    assert not shop.family.windows.exists()


def test_a_lead_takes_the_shops_own_carry_through(shop: Shop, lead: Client, bench: Client) -> None:
    """Worked out in tests/operations/test_own_share.py: 0.39 from one clocking test."""
    two_planes(shop)
    assert "No clocking test has shown a share" in lead.get("/shop/settings").text
    clocked_job(shop, **FAR_LEAN)
    page = lead.get("/shop/settings")
    assert "1 clocking test:" in page.text
    assert "Use the shop's own" not in bench.get("/shop/settings").text
    late = lead.post("/shop/settings/own-share", {"seen": "0.900"}, follow=True)
    assert "Nothing was changed" in late.text
    taken = lead.post("/shop/settings/own-share", form_on(page.text, "seen"), follow=True)
    assert "0.387 ± " in taken.text.replace("\N{NO-BREAK SPACE}", " ")
    assert ShopPolicy.objects.latest("pk").carry_through == Decimal("0.387")


READ = {"filled_cc": "6.6", "plug_well_cc": "0.5"}


def test_a_burette_reading_is_worked_out_and_keeps_nothing(shop: Shop, bench: Client) -> None:
    """6.6 - 0.5 = 6.1 cc; 46.32 cc swept gives 8.59 : 1. Only a lead may keep it."""
    page = bench.get(f"/shop/families/{shop.family.pk}/burette", READ)
    assert page.status_code == 200
    words = page.text.replace("\N{NO-BREAK SPACE}", " ")
    assert "6.100 cc" in words
    assert "8.59 : 1" in words
    assert "Use it as" not in words
    shop.family.refresh_from_db()
    assert shop.family.clearance_cc == Decimal("6.090")


def test_a_lead_makes_a_burette_reading_the_familys_own(shop: Shop, lead: Client) -> None:
    where = f"/shop/families/{shop.family.pk}/burette"
    kept = form_on(lead.get(where, READ).text, "filled_cc")
    assert lead.post(f"{where}/keep", kept).status_code == 302
    shop.family.refresh_from_db()
    assert shop.family.clearance_cc == Decimal("6.100")
    # Somebody else changed the family since: nothing is kept, and what was typed still stands.
    late = lead.post(f"{where}/keep", {**kept, "filled_cc": "7.0"})
    assert late.status_code == 409
    assert 'value="7.0"' in late.text
    again = form_on(late.text, "filled_cc")
    assert lead.post(f"{where}/keep", again).status_code == 302
    shop.family.refresh_from_db()
    assert shop.family.clearance_cc == Decimal("6.500")


@pytest.mark.parametrize("typed", [{**READ, "plug_well_cc": "7"}, {**READ, "filled_cc": "a lot"}])
def test_a_burette_reading_that_cannot_be_stays_as_typed(
    shop: Shop, lead: Client, typed: dict[str, str]
) -> None:
    page = lead.get(f"/shop/families/{shop.family.pk}/burette", typed)
    assert page.status_code == 422
    assert all(f'value="{one}"' in page.text for one in typed.values())
    assert "Use it as" not in page.text


def test_a_family_is_retired_with_a_reason(shop: Shop, lead: Client) -> None:
    where = f"/shop/families/{shop.family.pk}"
    assert lead.post(f"{where}/retire", {"why": ""}).status_code == 422
    assert (
        "No longer made"
        in lead.post(f"{where}/retire", {"why": "No longer made"}, follow=True).text
    )
    assert "/change" not in lead.get(where).text
