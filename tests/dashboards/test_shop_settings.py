"""The shop's choices: each has a reason and a history."""

from __future__ import annotations

from decimal import Decimal

from django.test import Client
from django.utils import timezone

from dashboards.forms.families import FamilyForm
from dashboards.forms.settings import SettingsForm
from qc.models import (
    ShopPolicy,
)
from qc.operations import engines, policy
from tests.dashboards.pages import filled
from tests.make import Shop


def test_every_choice_of_shop_and_family_is_on_its_form() -> None:
    assert {one.name for one in SettingsForm.all_columns()} == set(policy.CHOICES)
    assert {one.name for one in FamilyForm.all_columns()} == set(engines.CHOICES)


def test_settings_change_with_a_reason_and_keep_their_history(shop: Shop, lead: Client) -> None:
    where = "/shop/settings/change"
    sent = filled(lead, where, evenness_limit_mm="2 thou")
    bare = lead.post(where, sent)
    assert bare.status_code == 422
    assert bare.context["form"].errors.keys() == {"why"}
    assert 'value="2 thou"' in bare.text
    done = lead.post(where, {**sent, "why": "A customer asked"}, follow=True)
    assert "A customer asked" in done.text
    assert (
        "Evenness limit: was 0.060\N{NO-BREAK SPACE}mm, now 0.051\N{NO-BREAK SPACE}mm" in done.text
    )
    assert "Lena" in done.text
    newest = ShopPolicy.objects.latest("pk")
    assert newest.evenness_limit_mm == Decimal("0.0508")
    assert newest.overdue_gauge_is_refused


def test_an_unknown_time_zone_is_marked_on_its_field(shop: Shop, lead: Client) -> None:
    where = "/shop/settings/change"
    answer = lead.post(where, filled(lead, where, time_zone="Mars/Olympus", why="Moved"))
    assert answer.status_code == 422
    assert answer.context["form"].errors.keys() == {"time_zone"}
    assert "Mars/Olympus" in answer.text


def test_a_choice_that_another_changed_meanwhile_is_not_taken_back(
    shop: Shop, lead: Client
) -> None:
    where = "/shop/settings/change"
    seen = filled(lead, where, why="Finer finish", finish_mm="0.04")
    policy.change_policy(by=shop.lead, at=timezone.now(), why="Busier", season_jobs=400)
    conflict = lead.post(where, seen)
    assert conflict.status_code == 409
    assert "On record now: 400" in conflict.text
    assert 'value="0.04"' in conflict.text
    assert ShopPolicy.objects.latest("pk").season_jobs == 400


def test_what_others_publish_is_told_plainly_and_common_practice_as_such(
    shop: Shop, lead: Client
) -> None:
    page = lead.get("/shop/settings").text
    assert "saws: one builder&#x27;s habit (opeforum.com)" in page
    edge = lead.get(f"/shop/edges/{shop.edge.pk}/change").text
    assert "(common practice, no source); one new carbide edge was measured at 15." in edge
    assert "memory" not in edge
