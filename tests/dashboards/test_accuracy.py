"""The months' page: its answers in words, its drawings, one lathe at a time."""

from __future__ import annotations

from datetime import timedelta

from django.test import Client

from qc.models import ServiceKind
from qc.operations import resources
from tests.cutting import cut_job, cut_some
from tests.dashboards.counting import queries_of
from tests.flagged import make_flag
from tests.make import NOON, Shop

FIGURES = ("months", "target-error", "height-error")


def test_a_shop_without_jobs_says_that_it_cannot_say(shop: Shop, bench: Client) -> None:
    page = bench.get("/accuracy").text
    assert page.count("Too few jobs to say.") == 2
    assert "Baseline still thin: 12 more jobs." in page
    for name in FIGURES:
        assert bench.get(f"/accuracy/{name}.json").status_code == 200


def test_the_page_answers_on_target_steady_and_inside(shop: Shop, bench: Client) -> None:
    first, *_ = cut_some(shop, 14)
    outside = cut_job(shop, "outside", height=0.58, at=NOON + timedelta(days=20))
    page = bench.get("/accuracy").text
    assert "14 of the last 15 jobs." in page
    assert f'<a href="/jobs/{outside.pk}">job {outside.pk}</a>' in page
    assert "+0.080\N{NO-BREAK SPACE}mm from target" in page
    assert "Yes, as closely as the last 15 jobs can tell" in page
    assert "March 2026" in page
    assert "one job outside the limits" in bench.get("/accuracy/jobs").text
    assert first.pk < outside.pk
    the_drawings_hold_the_jobs_and_the_signal(bench)


def the_drawings_hold_the_jobs_and_the_signal(bench: Client) -> None:
    chart = bench.get("/accuracy/target-error.json").json()
    words = [text for trace in chart["data"] for text in trace.get("hovertext") or ()]
    assert sum("Target error" in text for text in words) == 15
    assert any(text.startswith("signal: one job outside the limits") for text in words)
    months = bench.get("/accuracy/months.json").json()
    assert "Achieved minus target, mm" in [note["text"] for note in months["layout"]["annotations"]]


def test_a_lathe_has_its_own_page_and_drawings(shop: Shop, bench: Client) -> None:
    cut_some(shop, 5)
    other = resources.register_lathe(name="South lathe", by=shop.lead, at=NOON)
    page = bench.get(f"/accuracy?lathe={shop.lathe.pk}").text
    assert "Accuracy of North lathe" in page
    assert f'data-figure-url="/accuracy/months.json?lathe={shop.lathe.pk}"' in page
    empty = bench.get(f"/accuracy/target-error.json?lathe={other.pk}").json()
    assert empty["layout"]["annotations"][0]["text"] == "No charted jobs yet"


def test_the_months_tell_of_flags_services_and_misses_as_one_may_know(
    shop: Shop, bench: Client, signed_in
) -> None:
    """The second job misses its height, made by whom an open flag names."""
    operator = shop.operator.person.pk
    round_ = cut_job(shop, "one", learn=False).rounds.get()
    cut_job(shop, "two", height=0.58, at=NOON + timedelta(days=1), learn=False)
    make_flag(round_, kind="person", key=operator)
    resources.record_service(
        subject=shop.edge, kind=ServiceKind.EDGE_CHANGED, by=shop.lead, at=NOON
    )
    page = bench.get("/accuracy/months").text
    assert "1 flag raised: 1 open or closed without saying. 1 service counts as 15 minutes" in page
    assert "Of 1 job that missed, 1 used what an open flag suspected." in page
    assert "Flags raised</th>" in page
    drawn = bench.get("/accuracy/months.json").text
    assert "Insert 1 edge changed" in drawn
    assert "Oskar" in drawn
    viewer = signed_in("viewer")
    hidden = viewer.get("/accuracy/months").text
    assert "flag raised:" not in hidden
    assert "Of 1 job that missed, 0 used what an open flag suspected." in hidden
    assert "Oskar" not in viewer.get("/accuracy/months.json").text


def test_an_unknown_lathe_is_not_found(bench: Client) -> None:
    for asked in ("999", "north"):
        assert bench.get(f"/accuracy?lathe={asked}").status_code == 404
        assert bench.get(f"/accuracy/months.json?lathe={asked}").status_code == 404


def test_as_many_queries_at_thirty_jobs_as_at_a_dozen(shop: Shop, bench: Client) -> None:
    """Under a dozen a lathe's chart does not judge, and never asks when the lathe was serviced."""
    addresses = ("/accuracy", f"/accuracy?lathe={shop.lathe.pk}", "/accuracy/height-error.json")
    cut_some(shop, 3)
    whole_shop_at_three = queries_of(bench, "/accuracy")
    cut_some(shop, 9, begin=NOON + timedelta(days=10))
    few = [queries_of(bench, one) for one in addresses]
    cut_some(shop, 18, begin=NOON + timedelta(days=40))
    assert [queries_of(bench, one) for one in addresses] == few
    assert few[0] == whole_shop_at_three
