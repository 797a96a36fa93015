"""How things and people stand by the watch: their pages, drawings, and who may see a technique."""

from __future__ import annotations

import math
import re
from datetime import timedelta
from html import unescape

import numpy as np
import pytest
from django.test import Client

from dashboards.figures.lanes import time_lanes, time_lanes_table
from dashboards.views.resource_drawings import resource_lane_rows
from qc.lookups.pages.resource_lanes import OwnJob, ResourceLanes
from qc.lookups.watch.beliefs import Believed
from qc.lookups.watch.own_jobs import BEARS_ON
from qc.models import CauseFound, ChartKind, DriftChannel, ServiceKind, ShopPolicy, StoredChart
from qc.numerics.drift import Budget, Event, Watch, jobs
from qc.numerics.drift.baseline import Baseline
from qc.numerics.drift.believed import Belief
from qc.operations import resources
from qc.sentences import OF_A_BASELINE, OF_A_BIAS
from tests.cutting import cut_job, cut_some
from tests.flagged import make_flag
from tests.make import NOON, Shop

LATER = NOON + timedelta(days=60)


def test_a_persons_lanes_show_each_way_a_lean_can_go_and_where_jobs_are_expected() -> None:
    """By hand: a log variance of 2 ln 1.6 is 1.6 times 0.010 mm."""
    own = [
        OwnJob(n, f"job {n}", NOON + timedelta(days=n), 0.01 * n, None, 0.02, -0.03)
        for n in range(3)
    ] + [OwnJob(3, "job 3", NOON + timedelta(days=3), None, 0.012, None, None)]
    level = Belief(0.94, 0.1, None, (2 * math.log(1.6),))
    found = ResourceLanes(
        channels=BEARS_ON["person"],
        jobs=own,
        flagged={("tilt", 1): "job 0 the likeliest", ("height", 1): "job 0 the likeliest"},
        services=(),
        levels={DriftChannel.SPREAD: Believed(DriftChannel.SPREAD, level, {}, NOON)},
    )
    rows = resource_lane_rows(found)
    names = [one.name for one in rows.lanes]
    assert names == [
        "Wide toward 0° (exhaust)",
        "Wide toward 90°",
        "Height error",
        "Spread of repeats",
    ]
    said = "job 0 the likeliest"
    assert [[point.signal for point in one.points] for one in rows.lanes[:3]] == [
        [None, said, None],
        [None, said, None],
        [None, said, None],
    ]
    words = [text for trace in time_lanes(rows).data for text in trace.hovertext or ()]
    assert sum(text.startswith("flag: ") for text in words) == 3
    assert {trace.name for trace in time_lanes(rows).data} & {"flag", "signal"} == {"flag"}
    assert [value for _, value in rows.lanes[3].running] == pytest.approx([0.016, 0.016])
    assert rows.lanes[2].running == ()
    table = time_lanes_table(rows)
    assert len(table.rows) == 4
    assert table.headings[-1] == "Flag or service"


def words_of(sentences: dict[str, str]) -> str:
    """A pattern for any one of them as a page in mm words it."""
    spelt = [re.sub(r"\\\{.*?\\\}", ".*", re.escape(one)) for one in sentences.values()]
    return "|".join(spelt)


def test_every_page_says_how_well_it_is_known_and_what_is_believed(
    shop: Shop, bench: Client, lead: Client, signed_in, monkeypatch: pytest.MonkeyPatch
) -> None:
    cut_some(shop, 6)
    assert "What recording more would buy" not in bench.get("/flags").text
    for n in range(3):
        cut_job(shop, f"blind-{n}", clocking=None, at=LATER + timedelta(days=n), learn=n == 2)
    listed = bench.get("/flags").text
    assert "What recording more would buy" in listed
    assert "The clocking is not recorded on 33 % of the last 9 jobs." in listed
    own = shop.operator.person.pk
    pages = {
        f"/shop/lathes/{shop.lathe.pk}": ["Height error, mm"],
        f"/shop/edges/{shop.edge.pk}": ["Height error, mm"],
        f"/shop/gauges/{shop.gauge.pk}": ["Height error, mm"],
        f"/shop/people/{own}/technique": [
            "Wide toward 0° (exhaust), mm",
            "Wide toward 90°, mm",
            "Height error, mm",
        ],
    }
    for address, titles in pages.items():
        page = bench.get(address).text
        assert re.search(words_of(OF_A_BASELINE), page), address
        drawing = f"{address}.json" if "technique" in address else f"{address}/lanes.json"
        assert f'data-figure-url="{drawing}"' in page
        told = bench.get(drawing).json()
        assert [one["text"] for one in told["layout"]["annotations"]] == titles
        if "gauge" in address:
            # One gauge before and after: what it reads wrong cancels, and nothing is made up.
            assert "so what it reads wrong cancels" in page
        else:
            assert re.search(words_of(OF_A_BIAS), page), address
    mine = bench.get(f"/shop/people/{own}/technique").text
    assert "Only you and the leads see this page." in mine
    assert "of your own jobs" in mine
    theirs = lead.get(f"/shop/people/{own}/technique").text
    assert "Only Oskar and the leads see this page." in theirs
    assert "Oskar&#x27;s tilt readings" in theirs
    assert bench.get(f"/shop/people/{shop.lead.person.pk}/technique").status_code == 404
    assert f'href="/shop/people/{own}/technique"' in bench.get("/me").text
    assert f'href="/shop/people/{own}/technique"' in lead.get("/shop/people").text
    assert (
        f'href="/shop/people/{shop.lead.person.pk}/technique"' not in lead.get("/shop/people").text
    )
    assert "/technique" not in bench.get("/shop/people").text
    assert "/technique" not in signed_in("viewer").get("/me").text
    shop.operator.person.unit = "thou"
    shop.operator.person.save()
    assert "a move of 0.8\N{NO-BREAK SPACE}thou" in bench.get(f"/shop/edges/{shop.edge.pk}").text
    slow = Baseline(own_jobs=9, finds_in=None, settled_finds_in=34, within=43, more_jobs=39)
    monkeypatch.setattr("qc.lookups.watch.how_known.baseline", lambda *_, **__: slow)
    told = bench.get(f"/shop/edges/{shop.edge.pk}").text
    assert "39 more of its own jobs until" in told
    assert "within about 43 jobs; even when well known it takes about 34." in told


def test_a_set_of_suspects_has_bars_and_says_why_they_are_not_told_apart(
    shop: Shop, signed_in, lead: Client
) -> None:
    round_ = cut_job(shop, "one").rounds.get()
    cut_job(shop, "two", at=LATER, learn=False)
    operator = shop.operator.person
    flag = make_flag(
        round_,
        kind="fixture",
        key=shop.fixture.pk,
        suspects=[("fixture", shop.fixture.pk, 0.6), ("person", operator.pk, 0.35)],
    )
    page = lead.get(f"/flags/{flag.pk}").text
    assert '<rect width="60" height="8"/>' in page
    assert "every job that used Plug A or Oskar used both: 2 jobs. A job that used both" in page
    assert "those jobs were clocked 1 way." in page
    assert f'href="/shop/people/{operator.pk}/technique"' in page
    hidden = signed_in("viewer").get(f"/flags/{flag.pk}").text
    assert "somebody&#x27;s technique" in hidden
    assert "Oskar" not in hidden
    assert "used both" not in hidden
    misses = r'data-label="If it is this, the next job misses">[^<]*\d+ time'
    assert len(re.findall(misses, page)) == 2
    assert len(re.findall(misses, hidden)) == 1
    worn = make_flag(round_, kind="edge", key=shop.edge.pk, channel=DriftChannel.HEIGHT, size=0.03)
    for address in (f"/flags/{worn.pk}", f"/shop/edges/{shop.edge.pk}"):
        page = lead.get(address).text
        assert "The next job with it misses its height tolerance 1 time in" in page
        assert "Changing or re-grinding it takes about 15 minutes" in page
    assert "An open flag holds it among what may have moved" in page
    spread = make_flag(
        round_, kind="gauge", key=shop.gauge.pk, channel=DriftChannel.SPREAD, size=1.4
    )
    page = lead.get(f"/flags/{spread.pk}").text
    assert "repeats at one position scatter 2.0 times as widely" in page
    assert "tolerance" not in page
    make_flag(
        round_,
        kind="person",
        key=operator.pk,
        channel=DriftChannel.HEIGHT,
        suspects=[("person", operator.pk, 0.6), ("lathe", shop.lathe.pk, 0.38)],
    )
    lathe = f"/shop/lathes/{shop.lathe.pk}"
    told = lead.get(lathe).text
    assert "An open flag holds it" in told
    assert "Something moved: Oskar&#x27;s technique or North lathe" in told
    assert "Going over its dial, stop and play takes about 30 minutes" in told
    ShopPolicy.objects.update(lathe_minutes=45)
    assert "stop and play takes about 45 minutes" in lead.get(lathe).text
    others = signed_in("viewer").get(lathe).text
    assert "An open flag holds it" not in others
    assert "technique" not in others
    waits = lead.get(f"/fixtures/{shop.fixture.pk}").text
    assert "Something moved: Plug A or Oskar&#x27;s technique" in waits
    StoredChart.objects.filter(kind=ChartKind.DRIFT).delete()
    assert "The watch is being brought up to date." in lead.get(f"/flags/{flag.pk}").text


def test_a_flag_has_its_page_when_another_suspect_was_put_right_since_the_newest_job(
    shop: Shop, lead: Client
) -> None:
    round_ = cut_job(shop, "one").rounds.get()
    flag = make_flag(
        round_,
        kind="edge",
        key=shop.edge.pk,
        channel=DriftChannel.HEIGHT,
        size=0.03,
        suspects=[("edge", shop.edge.pk, 0.6), ("lathe", shop.lathe.pk, 0.38)],
    )
    where = f"/flags/{flag.pk}"
    assert "Something moved: " in lead.get(where).text
    page = lead.get(where).text
    assert re.search(r"<td[^>]*>15 minutes; (pays after \d+ jobs?|would not pay in 20 jobs)", page)
    assert "Putting both things right takes 45 minutes." in page
    resources.record_service(
        subject=shop.lathe,
        kind=ServiceKind.REPAIRED,
        found=CauseFound.IN_ORDER,
        by=shop.lead,
        at=LATER,
    )
    page = lead.get(where).text
    assert "<dt>In order</dt><dd>North lathe, " in page
    assert "One of the leading two was put right, or ruled out, since the newest job." in page
    assert "No one job" not in page
    decide = f"{where}/decide"
    asked = lead.get(decide).text
    assert "Put it on record" in asked
    assert "<dt>Insert 1</dt><dd>15 minutes; " in asked
    lead.post(decide, {"answer": "accepted", "version": 1})
    decided = lead.get(decide).text
    assert "Decide otherwise about the flag" in decided
    assert "by Lena" in decided
    offered = lead.get(f"{where}/close").text
    lathe = f"lathe {shop.lathe.pk}"
    assert f'value="{lathe}"' in offered
    wrong = lead.post(f"{where}/close", {"state": "none_found", "why": "x", "cause": lathe})
    assert wrong.status_code == 422
    assert "only where one was found" in wrong.text
    done = {"state": "cause_found", "why": "The dial slipped", "cause": lathe}
    closed = lead.post(f"{where}/close", done, follow=True).text
    assert "cause found, in North lathe. The dial slipped" in closed
    decided = lead.get(decide).text
    assert "There is nothing left to decide here" in decided
    assert "by Lena" in decided
    assert "Put it on record" not in decided
    assert (
        "1 of them says where it lay: the likeliest suspect by then was it in 0."
        in lead.get("/flags").text
    )
    assert "The flag is closed already." in lead.get(f"{where}/close").text
    other = resources.register_lathe(name="Other lathe", by=shop.lead, at=LATER)
    edge = shop.edge
    edge.lathe = other
    edge.save()
    assert where in lead.get(f"/shop/lathes/{other.pk}").text


def wearing_edge(key: int) -> Watch:
    """Of three edges one wears, lately, by 0.0009 mm a job more than is usual."""
    n = 150
    which = np.arange(n) % 3
    error = np.random.default_rng(3).normal(0, 0.010, n)
    error += np.where(which == 0, 0.0009 * np.maximum(0, np.arange(n) / 3 - 15), 0.0)
    watch = Watch(budget=Budget(), on_flag="hold")
    watch.take(jobs(n, edge=key + which, edge_jobs=np.zeros(n), height_error_mm=error))
    return watch


def test_a_best_count_is_told_of_what_wears_and_never_of_a_fresh_edge(
    shop: Shop, bench: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    cut_job(shop, "one", learn=False)
    edge = shop.edge.pk
    watch = wearing_edge(edge)
    monkeypatch.setattr("qc.lookups.pages.stands.watch_now", lambda: watch)
    worn = bench.get(f"/shop/edges/{edge}").text
    assert re.search(r"Change or re-grind it: best after about \d+ more jobs?, by", worn)
    watch.take(jobs(0), events=[Event(before_job=0, kind="edge", resource=edge, what="serviced")])
    fresh = bench.get(f"/shop/edges/{edge}").text
    assert "The next job with it, made as its last one was, misses its height tolerance" in fresh
    assert "best after" not in fresh


def leaning_hands(key: int) -> Watch:
    """Every other job by hands that lean by 0.030 mm toward 90 degrees, leave gaps 0.030 mm wide
    and crush pieces that scatter twice as widely as the other hands' do."""
    n = 120
    mine = np.arange(n) % 2 == 0
    lean = np.column_stack([np.zeros(n), np.where(mine, 0.030, 0.0)])
    watch = Watch(budget=Budget())
    watch.take(
        jobs(
            n,
            operator=np.where(mine, key, key + 1),
            fixture=np.arange(n) % 3,
            clocking_deg=90.0 * (np.arange(n) // 3 % 4),
            tilt_found_mm=lean,
            tilt_achieved_mm=lean,
            height_error_mm=np.where(mine, 0.030, 0.0),
            spread_mm=np.where(mine, 0.016, 0.008),
            spread_df=np.full(n, 6),
        )
    )
    return watch


def test_a_technique_is_told_as_how_the_work_comes_out_with_its_usual_cause(
    shop: Shop, bench: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Half of a ratio of 2 is on either side of the shop's middle: about 1.4 times it."""
    key = shop.operator.person.pk
    cut_job(shop, "one", learn=False)
    monkeypatch.setattr("qc.lookups.pages.stands.watch_now", lambda: leaning_hands(key))
    page = unescape(bench.get(f"/shop/people/{key}/technique").text).replace("\xa0", " ")
    [toward] = re.findall(
        r"Your tilt readings lean about 0\.0\d\d mm toward (\d+) degrees on the engine's clock "
        r"whatever the fixture, give or take 0\.00\d mm\.",
        page,
    )
    assert abs(int(toward) - 90) <= 3
    assert re.search(r"Your heights come out about 0\.0\d\d mm wider than planned", page)
    [ratio] = re.findall(
        r"Pieces crushed by you differ more than usual at one position \(spread (\d\.\d) times the "
        r"shop's\)\.",
        page,
    )
    assert 1.2 <= float(ratio) <= 1.5
    assert page.count("Usually (common practice):") == 3
    assert "solder laid off-centre" in page
    assert "the crank rocked past top dead centre" in page
