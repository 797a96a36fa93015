"""What needs someone today, and what an empty shop needs first."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from qc.actor import Actor
from qc.lookups.pages.today import NEXT_STEP, today_page
from qc.lookups.pages.work import work_trouble
from qc.lookups.record.progress import BenchStep
from qc.models import Channel, Gauge, Heartbeat, OutboxItem, Role, Rule, Signal, State, VerdictKind
from qc.operations import flags, resources
from qc.units import mm
from tests.cutting import cut_job, cut_some
from tests.make import NOON, Shop, make_job, make_person

TODAY = NOON.date()
LATER = NOON + timedelta(days=60)


def page(by: Actor, **asked: object):
    return today_page(**{"now": NOON, "today": TODAY, "by": by, **asked})


@pytest.mark.django_db
def test_an_empty_shop_is_told_what_it_needs() -> None:
    found = page(Actor(make_person("lena", Role.LEAD)))
    assert not any(vars(found.checklist).values())
    assert not found.checklist.is_done
    assert found.is_quiet


def test_the_checklist_is_done_with_the_first_job(shop: Shop) -> None:
    assert not page(shop.lead).checklist.job
    make_job(shop)
    assert page(shop.lead).checklist.is_done


def test_jobs_at_work_come_by_step_the_nearest_to_their_verdict_first(shop: Shop) -> None:
    for n, state in enumerate([State.OPEN, State.CUT, State.PLANNED, State.OPEN]):
        make_job(shop, state=state, serial=f"C-{n}")
    make_job(shop, state=State.RELEASED, serial="gone")
    found = page(shop.operator)
    assert [(one.step, len(one.jobs)) for one in found.at_work] == [
        (BenchStep.ACHIEVED, 1),
        (BenchStep.SET_UP, 1),
        (BenchStep.AS_FOUND, 2),
    ]
    assert found.at_work[0].next_step == NEXT_STEP[BenchStep.ACHIEVED]
    assert found.jobs_unlisted == 0
    assert found.is_quiet


def test_a_measured_job_waits_with_its_verdict(shop: Shop) -> None:
    job = make_job(shop, state=State.MEASURED)
    [line] = page(shop.lead).verdicts
    assert (line.job.number, line.job.verdict) == (job.pk, VerdictKind.ACCEPT)
    assert line.next_step == "release it"


def test_an_open_flag_says_when_how_far_and_toward_where(shop: Shop) -> None:
    cut_some(shop, 8)
    first, *_ = cut_some(shop, 5, begin=LATER, side_to_side=0.08, wide_toward=200)
    [line] = page(shop.lead).flags
    assert line.title == "Plug A seems to have moved"
    assert line.since.at.date() == LATER.date()
    assert line.size_mm == pytest.approx(0.08 * 20 / 19.4, rel=0.2)
    assert line.wide_deg == pytest.approx(200, abs=5)
    assert not line.is_looked_into
    flags.look_into(flag=shop.fixture.flags.get(), by=shop.operator, at=LATER)
    assert page(shop.lead).flags[0].is_looked_into
    assert first.rounds.get().fixture == shop.fixture


def test_signals_of_one_job_make_one_line(shop: Shop) -> None:
    job = cut_job(shop, "wide", learn=False)
    for lathe, channel in ((None, Channel.TARGET_ERROR), (shop.lathe, Channel.HEIGHT_ERROR)):
        for rule in Rule:
            Signal.objects.create(
                channel=channel,
                lathe=lathe,
                rule=rule,
                round=job.rounds.get(),
                at=NOON,
                value_mm=0.04,
                limit_mm=0.03,
            )
    [line] = page(shop.lead).signals
    assert line.job_id == job.pk
    assert line.is_wide
    assert sorted(line.channels) == ["height error", "target error"]
    assert sorted(line.charts) == ["North lathe", "the whole shop"]
    assert len(line.rules) == len(Rule)
    assert page(shop.lead, now=NOON + timedelta(days=15)).signals == []
    Signal.objects.update(withdrawn_at=NOON)
    assert page(shop.lead).signals == []


def test_gauges_due_within_a_month_are_listed_overdue_ones_first(shop: Shop) -> None:
    for name, due in (("Near", 20), ("Far", 40), ("Today", 0), ("Past", -1)):
        resources.register_gauge(
            name=name,
            step=mm("0.01"),
            calibration_due=TODAY + timedelta(days=due),
            by=shop.lead,
            at=NOON,
        )
    Gauge.objects.filter(name="Micrometer 1").update(calibration_due=date(2030, 1, 1))
    assert [(one.name, one.is_overdue) for one in page(shop.lead).gauges] == [
        ("Past", True),
        ("Today", False),
        ("Near", False),
    ]


def test_dead_work_a_silent_worker_and_a_long_wait_are_told_to_leads_alone(shop: Shop) -> None:
    dead = OutboxItem.objects.create(
        task="qc.learn", asked_at=NOON, dead_at=NOON, last_error="no such round"
    )
    OutboxItem.objects.create(task="qc.learn", asked_at=NOON - timedelta(hours=1))
    Heartbeat.objects.create(worker="outbox thread", at=NOON - timedelta(hours=1))
    trouble = page(shop.lead).trouble
    assert trouble
    assert trouble.given_up == [dead]
    assert trouble.silent_since == trouble.waiting_since == NOON - timedelta(hours=1)
    assert page(shop.operator).trouble is None


def test_all_is_well_with_work_done_and_a_worker_heard_of(shop: Shop) -> None:
    OutboxItem.objects.create(task="qc.learn", asked_at=NOON, done_at=NOON)
    assert not work_trouble(now=NOON)
    Heartbeat.objects.create(worker="outbox thread", at=NOON)
    assert not work_trouble(now=NOON)
    OutboxItem.objects.create(task="qc.learn", asked_at=NOON)
    assert not work_trouble(now=NOON + timedelta(seconds=60))


def test_work_with_no_worker_ever_heard_of_is_trouble(shop: Shop) -> None:
    OutboxItem.objects.create(task="qc.learn", asked_at=NOON)
    assert work_trouble(now=NOON).never_heard
