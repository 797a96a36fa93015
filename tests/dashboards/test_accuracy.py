"""The months' page: its answers in words, its drawings, one lathe at a time."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from django.test import Client

from qc.models import DriftChannel, ServiceKind
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


def test_months_too_old_for_the_page_are_a_step_back(shop: Shop, bench: Client) -> None:
    """18 months up to March 2026 begin with October 2024; the service and the miss are older."""
    long_ago = datetime(2024, 8, 5, 12, tzinfo=UTC)
    for n in range(2):
        at = long_ago - timedelta(days=40 * n)
        cut_job(shop, f"old-{n}", height=0.58, at=at, learn=False)
    resources.record_service(
        subject=shop.edge, kind=ServiceKind.EDGE_CHANGED, by=shop.lead, at=long_ago
    )
    cut_job(shop, "new", at=NOON, learn=False)
    for page in ("/accuracy", "/accuracy/months"):
        told = bench.get(page).text
        assert "These are the months from March 2026 on." in told
        assert '<a href="/accuracy/months?until=2024-08">Earlier months</a>' in told
        assert "The newest months" not in told
    back = bench.get("/accuracy/months?until=2024-08").text
    assert "<h1>Months up to August 2024</h1>" in back
    assert "These are the months from June 2024 to August 2024." in back
    assert '<a href="/accuracy/months">The newest months</a>' in back
    assert "Earlier months" not in back
    assert "1 service counts as 15 minutes" in back
    assert "Of 2 jobs that missed" in back
    assert 'data-figure-url="/accuracy/months.json?until=2024-08"' in back
    drawn = bench.get("/accuracy/months.json?until=2024-08").json()
    assert drawn["layout"]["xaxis"]["range"] == ["2024-06-01", "2024-09-01"]
    assert "This is June 2024 alone." in bench.get("/accuracy/months?until=2024-06").text
    own = bench.get(f"/accuracy/months?lathe={shop.lathe.pk}").text
    assert f'href="/accuracy/months?lathe={shop.lathe.pk}&amp;until=2024-08"' in own
    assert "No job was measured up to May 2019." in bench.get("/accuracy/months?until=2019-05").text
    for asked in ("", "2024", "2024-13", "soon", "9999-12", "0001-01"):
        assert bench.get(f"/accuracy/months?until={asked}").status_code == 200


def test_what_came_after_the_months_asked_for_is_not_told_with_them(
    shop: Shop, bench: Client
) -> None:
    round_ = cut_job(shop, "old", at=NOON - timedelta(days=900), learn=False).rounds.get()
    cut_job(shop, "late", height=0.58, at=NOON, learn=False)
    make_flag(round_, kind="edge", key=shop.edge.pk, channel=DriftChannel.HEIGHT)
    resources.record_service(
        subject=shop.edge, kind=ServiceKind.EDGE_CHANGED, by=shop.lead, at=NOON
    )
    assert "1 flag raised" in bench.get("/accuracy/months").text
    assert "Flags, services and misses" not in bench.get("/accuracy/months?until=2024-01").text


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
