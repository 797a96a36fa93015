"""The chart page of a shop with few jobs or none, and what it does not have."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client

from qc.models import Role, ServiceKind
from qc.operations import resources
from tests.cutting import cut_some
from tests.dashboards.pages import SignedIn
from tests.make import NOON, Shop


def test_a_shop_without_jobs_has_a_page_that_says_so(shop: Shop, bench: Client) -> None:
    assert "No charted jobs yet." in bench.get("/charts").text
    assert bench.get("/charts/figure.json").status_code == 200


def test_the_first_jobs_are_judged_without_a_baseline(shop: Shop, bench: Client) -> None:
    cut_some(shop, 6)
    page = bench.get("/charts?of=height_error").text
    assert "Baseline still thin: 6 more jobs." in page
    assert "Each job is judged by the jobs before it alone." in page
    notes = bench.get("/charts/figure.json?of=height_error").json()["layout"]["annotations"]
    assert "From the jobs before, in sigma" in [one["text"] for one in notes]


def test_lathe_edge_and_gauge_have_their_own_charts_and_services(shop: Shop, bench: Client) -> None:
    cut_some(shop, 4)
    resources.record_service(
        subject=shop.edge, kind=ServiceKind.DRESSED, by=shop.lead, at=NOON + timedelta(days=2)
    )
    for whose in (f"lathe/{shop.lathe.pk}", f"edge/{shop.edge.pk}"):
        page = bench.get(f"/charts?of=height_error&whose={whose}").text
        assert "Insert 1 dressed" in page
    page = bench.get(f"/charts?whose=gauge/{shop.gauge.pk}").text
    assert "Target error of Micrometer 1" in page
    assert "dressed" not in page


@pytest.mark.parametrize(
    "asked",
    ["of=tilt", "whose=lathe/99", "whose=spindle/1", "whose=shop/1", "whose=lathe", "as=pie"],
)
def test_what_the_shop_does_not_have_is_not_found(bench: Client, asked: str) -> None:
    for address in ("/charts", "/charts/figure.json"):
        assert bench.get(f"{address}?{asked}").status_code == 404


def test_the_settings_tell_what_each_set_of_patterns_costs(shop: Shop, signed_in: SignedIn) -> None:
    page = signed_in(Role.LEAD).get("/shop/settings").text
    assert "Western Electric zone rules" in page
    assert "two of three jobs far out on one side" in page
    assert "(92 jobs)" in page  # 91.75, Champ & Woodall, Technometrics 29 (1987), table 1
