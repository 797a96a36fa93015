"""The chart page over fourteen jobs: its views, and limits frozen by a lead."""

from __future__ import annotations

from copy import deepcopy
from datetime import timedelta

import pytest
from django.test import Client

from qc.lookups.charts.chart_lanes import View
from qc.models import Baseline, Job, Role
from tests.cutting import cut_job, cut_some
from tests.dashboards.counting import queries_of
from tests.dashboards.pages import SignedIn
from tests.make import NOON, Shop, make_shop

TARGET_ONLY = (View.SHARE, View.RANGE, View.DEVIATION, View.BETWEEN)


@pytest.fixture(scope="module")
def fourteen(made_once):
    def make() -> tuple[Shop, list[Job]]:
        shop = make_shop()
        return shop, cut_some(shop, 14)

    return made_once(make)


@pytest.fixture
def shop(db: None, fourteen: tuple[Shop, list[Job]]) -> Shop:
    return deepcopy(fourteen[0])


@pytest.fixture
def jobs(db: None, fourteen: tuple[Shop, list[Job]]) -> list[Job]:
    return deepcopy(fourteen[1])


def test_single_jobs_come_first_and_say_what_they_were_held_against(
    shop: Shop, bench: Client
) -> None:
    cut_job(shop, "far", at=NOON + timedelta(days=20), height=0.58)
    page = bench.get("/charts").text
    assert "Limits are estimated from 15 jobs and still follow each new one." in page
    assert "one job outside the limits" in page
    assert "Upper limit" in page
    figure = bench.get("/charts/figure.json").json()
    words = [text for trace in figure["data"] for text in trace.get("hovertext") or ()]
    assert any(text.startswith("signal: one job outside the limits") for text in words)


def test_every_way_of_looking_has_a_drawing_and_its_numbers(shop: Shop, bench: Client) -> None:
    for view in View:
        for of in ("target_error", "height_error"):
            page = bench.get(f"/charts?of={of}&as={view}")
            if of == "height_error" and view in TARGET_ONLY:
                assert page.status_code == 404
                continue
            figure = bench.get(f"/charts/figure.json?of={of}&as={view}").json()
            assert sum(len(trace["x"]) for trace in figure["data"]) > 14
            assert page.text.count('<th scope="row">') >= 14


def test_a_lead_freezes_limits_and_gives_them_up(jobs: list[Job], signed_in: SignedIn) -> None:
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


def test_as_many_queries_at_thirty_jobs_as_at_a_dozen(shop: Shop, bench: Client) -> None:
    few = [queries_of(bench, one) for one in ("/charts", "/charts/figure.json")]
    cut_some(shop, 16, begin=NOON + timedelta(days=40))
    assert [queries_of(bench, one) for one in ("/charts", "/charts/figure.json")] == few
