"""Stored charts: however jobs, corrections and services come in, a rebuild finds the same."""

from __future__ import annotations

import itertools
import math
import random
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core.management import call_command

from qc import outbox
from qc.errors import NotAllowed
from qc.lookups.charts import kept_tilts
from qc.lookups.charts.kept_errors import ErrorChartKept
from qc.lookups.charts.scopes import SHOP
from qc.models import (
    Channel,
    ChartKind,
    ChartMark,
    ChartsBy,
    Flag,
    JobResult,
    JournalEntry,
    Kind,
    Reading,
    Rule,
    RuleSet,
    ServiceKind,
    Signal,
    StoredChart,
)
from qc.operations import learning, policy, readings, resources, stored_charts
from qc.units import mm
from tests.cutting import cut_job
from tests.make import NOON, Shop, make_shop

pytestmark = pytest.mark.django_db


def kept() -> dict[str, Any]:
    """Everything the charts keep, less when it was learnt."""
    charts = StoredChart.objects.all()
    return {
        "states": {(c.kind, c.key): (c.jobs, c.at, c.result, c.state) for c in charts},
        "marks": set(ChartMark.objects.values_list("chart__key", "jobs", "at", "result")),
        "mark states": sorted(
            (one.chart.key, one.jobs, str(one.state)) for one in ChartMark.objects.all()
        ),
        "signals": {
            (s.channel, s.lathe_id, s.rule, s.round_id): (s.value_mm, s.limit_mm, s.rounds)
            for s in Signal.objects.filter(withdrawn_at=None)
        },
        "flags": set(Flag.objects.filter(closed_at=None).values_list("fixture", "raised_by")),
    }


@pytest.fixture
def shop(monkeypatch: pytest.MonkeyPatch) -> Shop:
    """Marks every fifth job, older ones thinned soon, and the noise read from the fifth on, so that
    few jobs meet all of it."""
    monkeypatch.setattr(stored_charts, "MARK_EVERY", 5)
    monkeypatch.setattr(stored_charts, "CLOSE_MARKS", 2)
    monkeypatch.setattr(kept_tilts, "FIRST_NOISE_AT", 5)
    return make_shop()


def height(rng: random.Random, at: datetime) -> float:
    drift = 0.0 if at < NOON + timedelta(days=13) else 0.03
    return round(0.50 + drift + rng.gauss(0, 0.004), 3)


def fourteen(shop: Shop) -> None:
    """Jobs that scatter by a few microns, a day apart; the charts follow at the last."""
    for day in range(14):
        cut_job(
            shop,
            f"C-{day}",
            at=NOON + timedelta(days=day),
            height=0.5 + 0.002 * (day % 3),
            learn=day == 13,
        )


def correct(shop: Shop, rng: random.Random, *, at: datetime) -> None:
    """Void one achieved reading of some job and put another in its place."""
    standing = Reading.objects.filter(kind=Kind.ACHIEVED, voided_at=None).order_by("pk")
    reading = rng.choice(list(standing))
    right = reading.value_mm + Decimal(rng.choice(["-0.02", "0.02", "0.06"]))
    readings.void_reading(
        reading=reading, why="Typo", replacement=mm(str(right)), by=shop.lead, at=at
    )


@pytest.mark.parametrize("seed", range(2))
def test_any_order_of_events_leaves_what_a_rebuild_leaves(shop: Shop, seed: int) -> None:
    """Jobs late and in time, corrections, services now and in the past, learnt in any order."""
    rng = random.Random(seed)
    other = resources.register_fixture(name="Plug B", by=shop.lead, at=NOON)
    policy.change_policy(
        by=shop.lead,
        at=NOON,
        why="Patterns",
        rule_set=rng.choice([str(one) for one in RuleSet]),
        charts_by=rng.choice([str(one) for one in ChartsBy]),
    )
    days = list(range(22))
    days = sorted(days, key=lambda day: day + rng.choice([0, 0, 0, 4]))
    for number, day in enumerate(days):
        at = NOON + timedelta(days=day)
        cut_job(
            shop,
            f"C-{day}",
            at=at,
            height=height(rng, at),
            fixture=rng.choice([shop.fixture, other]),
            side_to_side=0.10 if day > 16 else 0.0,
            clocking=rng.choice([0, 90, None]),
            learn=False,
        )
        if number % 7 == 5:
            subject: Any = rng.choice([shop.lathe, shop.edge, shop.fixture])
            kind = {
                shop.lathe: ServiceKind.REPAIRED,
                shop.edge: ServiceKind.DRESSED,
                shop.fixture: ServiceKind.REINDICATED,
            }[subject]
            back = timedelta(days=rng.choice([0, 3]), hours=1)
            resources.record_service(subject=subject, kind=kind, by=shop.lead, at=at - back)
        if number % 6 == 4:
            correct(shop, rng, at=at)
        if rng.random() < 0.7:
            outbox.drain()
    outbox.drain()
    before = kept()
    assert before["signals"] or before["flags"]
    assert before["marks"]
    assert learning.rebuild_all(at=NOON).differed == []
    assert kept() == before


def test_marks_grow_with_the_logarithm_of_the_history() -> None:
    """And from the mark before any past one no more than about twice is stepped again."""
    close = stored_charts.CLOSE_MARKS
    before: set[int] = set()
    for newest in range(1, 3000):
        kept = stored_charts.marks_kept(newest)
        assert kept <= before | {newest}
        assert set(range(max(1, newest - close + 1), newest + 1)) <= kept
        assert len(kept) <= close + (close // 2 + 1) * max(0, math.log2(newest / close) + 1)
        before = kept
    places = sorted({0} | before)
    for at, after in itertools.pairwise(places):
        assert newest - at <= 2 * (newest - after) + close


def test_a_chart_reads_only_what_came_after_its_newest_job(shop: Shop) -> None:
    for day in range(3):
        cut_job(shop, f"C-{day}", at=NOON + timedelta(days=day))
    chart = ErrorChartKept(Channel.HEIGHT_ERROR, SHOP)
    row = StoredChart.objects.get(kind=ChartKind.ERRORS, key=chart.key)
    cut_job(shop, "C-9", at=NOON + timedelta(days=9), learn=False)
    from_row = stored_charts.place_of(row)
    assert len(list(chart.read(from_row))) == 1
    assert len(list(chart.read(None))) == 4


def test_a_late_job_takes_the_chart_back_to_the_mark_before_it(shop: Shop) -> None:
    for day in range(12):
        cut_job(shop, f"C-{day}", at=NOON + timedelta(days=day), learn=day == 11)
    chart = ErrorChartKept(Channel.TARGET_ERROR, SHOP)
    stepped: list[int] = []
    step = chart.step
    chart.step = lambda state, job: (stepped.append(job.round_id), step(state, job))[1]  # type: ignore[method-assign]
    late = cut_job(shop, "late", at=NOON + timedelta(days=7, hours=5), learn=False)
    first = JobResult.objects.get(round__job=late)
    stored_charts.bring_up(chart, since=stored_charts.Place(first.measured_at, first.pk))
    assert len(stepped) == 8  # back to the fifth job; 13 jobs now
    assert late.rounds.get().pk in stepped


def test_a_service_recorded_late_splits_the_stretch_where_it_was(shop: Shop) -> None:
    fourteen(shop)
    key = f"height_error/lathe/{shop.lathe.pk}"
    chart = StoredChart.objects.get(kind=ChartKind.ERRORS, key=key)
    assert chart.state["kept"]["running"]["jobs"] == 14
    resources.record_service(
        subject=shop.edge,
        kind=ServiceKind.DRESSED,
        by=shop.lead,
        at=NOON + timedelta(days=9, hours=12),
    )
    outbox.drain()
    chart.refresh_from_db()
    assert chart.state["kept"]["running"]["jobs"] == 4
    whole = StoredChart.objects.get(kind=ChartKind.ERRORS, key="height_error/shop")
    assert whole.state["kept"]["running"]["jobs"] == 14


def test_a_pattern_names_the_jobs_that_made_it(shop: Shop) -> None:
    policy.change_policy(by=shop.lead, at=NOON, why="Zone rules", rule_set=RuleSet.WESTERN_ELECTRIC)
    wobble = [0.500, 0.504, 0.498, 0.502, 0.497, 0.503, 0.499, 0.501] * 2
    jobs = []
    for day, value in enumerate([*wobble, 0.5165, 0.500, 0.5165]):
        jobs.append(
            cut_job(shop, f"C-{day}", at=NOON + timedelta(days=day), height=value, learn=day > 15)
        )
    signal = Signal.objects.get(channel=Channel.TARGET_ERROR, lathe=None, rule=Rule.TWO_OF_THREE)
    assert signal.rounds == [jobs[-3].rounds.get().pk, jobs[-1].rounds.get().pk]
    assert signal.limit_mm is not None
    assert 0 < signal.limit_mm < signal.value_mm


def test_a_corrected_reading_withdraws_its_signal_and_a_second_brings_it_back(shop: Shop) -> None:
    fourteen(shop)
    cut_job(shop, "far", at=NOON + timedelta(days=20), height=0.58)
    signals = Signal.objects.filter(rule=Rule.INDIVIDUALS, withdrawn_at=None)
    assert signals.count() == 4
    far = Reading.objects.filter(kind=Kind.ACHIEVED, value_mm__gt=Decimal("0.57"), voided_at=None)

    def put(value: str, rows: list[Reading]) -> None:
        for one in rows:
            readings.void_reading(
                reading=one, why="Typo", replacement=mm(value), by=shop.lead, at=NOON
            )
        outbox.drain()

    rows = list(far)
    put("0.501", rows)
    assert not signals.exists()
    put("0.58", [Reading.objects.get(replaces=one) for one in rows])
    assert signals.count() == 4
    assert Signal.objects.filter(rule=Rule.INDIVIDUALS).count() == 4


def test_only_a_lead_rebuilds_and_the_journal_says_so(shop: Shop) -> None:
    cut_job(shop, "C-1")
    with pytest.raises(NotAllowed):
        learning.rebuild_all(at=NOON, by=shop.operator)
    learning.rebuild_all(at=NOON, by=shop.lead)
    assert JournalEntry.objects.get(action="charts.rebuilt").person == shop.lead.person


def test_the_command_names_a_chart_that_is_not_what_it_should_be(
    shop: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    cut_job(shop, "C-1")
    StoredChart.objects.filter(key="height_error/shop").update(jobs=7)
    call_command("rebuild_charts")
    assert "differed: errors height_error/shop" in capsys.readouterr().out
    call_command("rebuild_charts")
    assert "11 charts worked out again, 0 differed." in capsys.readouterr().out


def test_a_shop_from_before_stored_charts_gets_them_at_its_next_start(shop: Shop) -> None:
    cut_job(shop, "C-1")
    before = kept()
    StoredChart.objects.all().delete()
    learning.start_charts(at=NOON)
    assert kept()["states"] == before["states"]
    entries = JournalEntry.objects.filter(action="charts.rebuilt").count()
    learning.start_charts(at=NOON)
    assert JournalEntry.objects.filter(action="charts.rebuilt").count() == entries == 1
