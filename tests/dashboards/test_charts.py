"""The chart page: one chart first, the others one click away; its limits and who froze them."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client

from qc.lookups.chart_lanes import View
from qc.models import Baseline, Role, ServiceKind
from qc.operations import resources
from tests.cutting import cut_job, cut_some
from tests.dashboards.counting import queries_of
from tests.dashboards.pages import SignedIn
from tests.make import NOON, Shop

TARGET_ONLY = (View.SHARE, View.RANGE, View.DEVIATION, View.BETWEEN)


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


def test_single_jobs_come_first_and_say_what_they_were_held_against(
    shop: Shop, bench: Client
) -> None:
    cut_some(shop, 14)
    cut_job(shop, "far", at=NOON + timedelta(days=20), height=0.58)
    page = bench.get("/charts").text
    assert "Limits are estimated from 15 jobs and still follow each new one." in page
    assert "one job outside the limits" in page
    assert "Upper limit" in page
    figure = bench.get("/charts/figure.json").json()
    words = [text for trace in figure["data"] for text in trace.get("hovertext") or ()]
    assert any(text.startswith("signal: one job outside the limits") for text in words)


def test_every_way_of_looking_has_a_drawing_and_its_numbers(shop: Shop, bench: Client) -> None:
    cut_some(shop, 14)
    for view in View:
        for of in ("target_error", "height_error"):
            page = bench.get(f"/charts?of={of}&as={view}")
            if of == "height_error" and view in TARGET_ONLY:
                assert page.status_code == 404
                continue
            figure = bench.get(f"/charts/figure.json?of={of}&as={view}").json()
            assert sum(len(trace["x"]) for trace in figure["data"]) > 14
            assert page.text.count('<th scope="row">') >= 14


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


def test_a_lead_freezes_limits_and_gives_them_up(shop: Shop, signed_in: SignedIn) -> None:
    jobs = cut_some(shop, 14)
    lead = signed_in(Role.LEAD)
    form = lead.get("/charts/freeze?of=target_error").text
    assert f'value="{jobs[0].pk}"' in form
    told = {"first_job": jobs[0].pk, "last_job": jobs[-1].pk, "leave_out": "none", "why": "Calm"}
    refused = lead.post("/charts/freeze?of=target_error", told)
    assert refused.status_code == 422
    assert "Write job numbers" in refused.text
    assert "Calm" in refused.text
    far_too_long = lead.post("/charts/freeze?of=target_error", {**told, "leave_out": "9" * 5000})
    assert far_too_long.status_code == 422
    sent = lead.post("/charts/freeze?of=target_error", {**told, "leave_out": ""}, follow=True)
    assert "Limits frozen" in sent.text
    assert "14 jobs made them" in sent.text
    baseline = Baseline.objects.get()
    gone = lead.post(f"/charts/limits/{baseline.pk}/give-up", {"why": "New gauge"}, follow=True)
    assert "Given up: New gauge" in gone.text
    again = lead.post("/charts/rebuild", follow=True)
    assert "All were as they should be." in again.text


def test_the_settings_tell_what_each_set_of_patterns_costs(shop: Shop, signed_in: SignedIn) -> None:
    page = signed_in(Role.LEAD).get("/shop/settings").text
    assert "Western Electric zone rules" in page
    assert "two of three jobs far out on one side" in page
    assert "(92 jobs)" in page  # 91.75, Champ & Woodall, Technometrics 29 (1987), table 1


def test_as_many_queries_at_thirty_jobs_as_at_a_dozen(shop: Shop, bench: Client) -> None:
    cut_some(shop, 13)
    few = [queries_of(bench, one) for one in ("/charts", "/charts/figure.json")]
    cut_some(shop, 17, begin=NOON + timedelta(days=40))
    assert [queries_of(bench, one) for one in ("/charts", "/charts/figure.json")] == few
