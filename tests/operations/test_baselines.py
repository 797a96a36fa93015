"""Freezing limits: which jobs, who, why, from when; and giving them up."""

from __future__ import annotations

from copy import deepcopy
from datetime import timedelta

import pytest

from qc import outbox
from qc.errors import BadInput, NotAllowed, ReasonNeeded
from qc.lookups.charts.error_charts import error_chart
from qc.lookups.charts.kept_errors import ErrorChartKept
from qc.lookups.charts.scopes import SHOP
from qc.models import Baseline, Channel, Job, JournalEntry, Rule, Signal, StoredChart
from qc.numerics.charts import individuals_limits
from qc.operations.baselines import freeze_limits, give_up_limits
from qc.operations.learning import rebuild_all
from tests.cutting import cut_job, cut_some
from tests.make import NOON, Shop, make_shop

CHART = ErrorChartKept(Channel.TARGET_ERROR, SHOP)
LATER = NOON + timedelta(days=60)


@pytest.fixture(scope="module")
def fourteen(made_once):
    """A shop and its fourteen jobs, a day apart."""

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


def freeze(shop: Shop, jobs: list[Job], **how: object) -> Baseline:
    told = {"why": "A good month", "by": shop.lead, "at": LATER, "leave_out": (), **how}
    return freeze_limits(
        chart=ErrorChartKept(Channel.TARGET_ERROR, SHOP),
        first_job=jobs[0].pk,
        last_job=jobs[-1].pk,
        **told,  # type: ignore[arg-type]
    )


def state() -> dict[str, object]:
    return dict(StoredChart.objects.get(key=CHART.key).state)


def test_frozen_limits_keep_their_jobs_their_maker_and_the_reason(
    shop: Shop, jobs: list[Job]
) -> None:
    baseline = freeze(shop, jobs)
    by_hand = individuals_limits([0.002 * (n % 3 - 1) for n in range(14)], spread="median")
    assert baseline.centre_mm == pytest.approx(by_hand.centre, abs=1e-9)
    assert baseline.sigma_mm == pytest.approx(by_hand.sigma, abs=1e-9)
    assert {one.job_id for one in baseline.rounds.all()} == {one.pk for one in jobs}
    assert baseline.frozen_by == shop.lead.person
    assert state()["limits_of"] == baseline.pk
    entry = JournalEntry.objects.get(action="limits.frozen")
    assert (entry.person, entry.why) == (shop.lead.person, "A good month")
    assert len(entry.after["rounds"]) == 14
    chart = error_chart(Channel.TARGET_ERROR)
    assert chart.baseline == baseline
    assert chart.individuals is not None
    assert chart.individuals.limits.sigma == baseline.sigma_mm
    # Limits that rest on few jobs are drawn wider than those that rest on many.
    assert (baseline.job_count, baseline.pair_count) == (by_hand.jobs, by_hand.pairs)
    Baseline.objects.update(job_count=10_000, pair_count=9_999)
    many = error_chart(Channel.TARGET_ERROR).individuals
    assert many is not None
    assert chart.individuals.limits.sigmas > 1.1 * many.limits.sigmas


def test_a_job_left_out_makes_no_limits_and_still_signals(shop: Shop, jobs: list[Job]) -> None:
    far = cut_job(shop, "far", at=NOON + timedelta(days=15), height=0.58)
    more = cut_some(shop, 3, begin=NOON + timedelta(days=20))
    baseline = freeze(shop, [*jobs, *more], leave_out=[far.pk])
    assert baseline.rounds.count() == 17
    assert baseline.centre_mm == pytest.approx(0.0, abs=0.001)
    fired = Signal.objects.filter(channel=Channel.TARGET_ERROR, lathe=None, withdrawn_at=None)
    assert [(one.rule, one.round.job_id) for one in fired.filter(rule=Rule.INDIVIDUALS)] == [
        (Rule.INDIVIDUALS, far.pk)
    ]


def test_what_no_limits_can_be_made_from_is_refused(shop: Shop, jobs: list[Job]) -> None:
    with pytest.raises(BadInput, match="at least"):
        freeze(shop, jobs[:5])
    with pytest.raises(BadInput, match="cutting order"):
        freeze(shop, jobs[::-1])
    with pytest.raises(BadInput, match="not among"):
        freeze(shop, jobs[1:], leave_out=[jobs[0].pk])
    with pytest.raises(BadInput, match="not on this chart"):
        freeze_limits(
            chart=CHART, first_job=999, last_job=jobs[0].pk, why="x", by=shop.lead, at=LATER
        )
    with pytest.raises(ReasonNeeded):
        freeze(shop, jobs, why=" ")
    with pytest.raises(NotAllowed):
        freeze(shop, jobs, by=shop.operator)
    assert not Baseline.objects.exists()


def test_renewed_limits_end_the_old_where_the_new_begin(shop: Shop, jobs: list[Job]) -> None:
    old = freeze(shop, jobs)
    begin = NOON + timedelta(days=30)
    second = [
        cut_job(
            shop,
            f"D-{n}",
            at=begin + timedelta(days=n),
            height=0.503 + 0.002 * (n % 3),
            learn=n == 12,
        )
        for n in range(13)
    ]
    new = freeze(shop, second, why="New gauge")
    old.refresh_from_db()
    assert old.holds_until == new.holds_from
    assert (old.ended_by, old.why_ended) == (shop.lead.person, "New gauge")
    assert state()["limits_of"] == new.pk


def test_given_up_limits_leave_a_thin_baseline_from_then_on(shop: Shop, jobs: list[Job]) -> None:
    baseline = freeze(shop, jobs, at=NOON + timedelta(days=20))
    with pytest.raises(ReasonNeeded):
        give_up_limits(baseline=baseline, why="", by=shop.lead, at=LATER)
    with pytest.raises(NotAllowed):
        give_up_limits(baseline=baseline, why="Old", by=shop.operator, at=LATER)
    give_up_limits(baseline=baseline, why="New lathe", by=shop.lead, at=NOON + timedelta(days=21))
    with pytest.raises(BadInput, match="already"):
        give_up_limits(baseline=baseline, why="Again", by=shop.lead, at=LATER)
    cut_job(shop, "after", at=NOON + timedelta(days=25))
    outbox.drain()
    kept = state()["kept"]
    assert isinstance(kept, dict)
    assert (state()["limits_of"], len(kept["readings"]), kept["centre"]) == (-baseline.pk, 1, None)
    assert error_chart(Channel.TARGET_ERROR).jobs_wanted == 11
    before = state()
    rebuild_all(at=LATER)
    assert state() == before
