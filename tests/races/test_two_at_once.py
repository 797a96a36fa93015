"""Two people, one step: one is saved, the other is told, and nothing is written twice."""

from __future__ import annotations

import threading
from datetime import timedelta

import pytest
from django.db.models import F
from django.test import Client
from django.utils import timezone

from qc import outbox
from qc.lookups.charts.kept_errors import ErrorChartKept
from qc.lookups.charts.scopes import SHOP
from qc.models import (
    Channel,
    Flag,
    FlagState,
    Job,
    Kind,
    OutboxItem,
    Reading,
    ReadingSet,
    ServiceKind,
    Signal,
    State,
    StoredChart,
)
from qc.operations import (
    closing,
    flags,
    learning,
    readings,
    resources,
    steps,
    stored_charts,
)
from qc.operations.drift import follow_drift
from qc.units import mm
from tests.cutting import cut_job
from tests.make import EVEN, FOUND, NOON, gaps, make_job, make_shop
from tests.races.conftest import BothAtOnce

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]
KNOCKED = {0: "0.50", 90: "0.54", 180: "0.50", 270: "0.46"}


def kinds(results: list[object]) -> list[str]:
    return sorted(type(one).__name__ for one in results)


def test_two_benches_recording_one_as_found(both_at_once: BothAtOnce) -> None:
    shop = make_shop()
    job = make_job(shop)
    seen = job.version

    def record(number: int) -> object:
        return readings.record_gap_readings(
            job=Job.objects.get(pk=job.pk),
            kind=Kind.AS_FOUND,
            readings=gaps(FOUND),
            gauge=shop.gauge,
            base_gasket=mm("0.50"),
            by=shop.operator,
            at=NOON,
            expected_version=seen,
        )

    assert kinds(both_at_once(record)) == ["ChangedMeanwhile", "ReadingSet"]
    assert ReadingSet.objects.count() == 1
    assert Reading.objects.count() == 4


def test_the_harness_sees_a_race(both_at_once: BothAtOnce, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the version in the WHERE both get through; else the test above proves nothing."""
    shop = make_shop()
    job = make_job(shop)

    def no_guard(job: Job, *, needed: object, expected_version: int | None) -> object:
        Job.objects.filter(pk=job.pk).update(version=F("version") + 1)
        return steps.newest_round(job)

    monkeypatch.setattr(readings, "take_turn", no_guard)

    def record(number: int) -> object:
        return readings.record_gap_readings(
            job=Job.objects.get(pk=job.pk),
            kind=Kind.AS_FOUND,
            readings=gaps(FOUND),
            gauge=shop.gauge,
            base_gasket=mm("0.50"),
            by=shop.operator,
            at=NOON,
            expected_version=1,
            why_again="Both",
        )

    assert kinds(both_at_once(record)) == ["ReadingSet", "ReadingSet"]
    assert ReadingSet.objects.count() == 2


def test_a_double_click_opens_one_job(both_at_once: BothAtOnce) -> None:
    """The second press comes before the first is answered, on a cylinder new to the shop."""
    shop = make_shop()
    tablets = [Client(), Client()]
    for tablet in tablets:
        tablet.force_login(shop.operator.person)
    sent = {"once": "press", "family": shop.family.pk, "serial": "K-77", "unit": "mm"}
    answers = both_at_once(lambda number: tablets[number].post("/jobs/new", sent))
    places = {one.headers["Location"] for one in answers}  # type: ignore[attr-defined]
    assert places == {f"/jobs/{Job.objects.get().pk}/as-found"}


def test_release_and_cut_again_at_once(both_at_once: BothAtOnce) -> None:
    shop = make_shop()
    job = make_job(shop, state=State.MEASURED)

    def decide(number: int) -> object:
        mine = Job.objects.get(pk=job.pk)
        if number:
            return closing.release(job=mine, by=shop.lead, at=NOON)
        return closing.cut_again(job=mine, by=shop.operator, at=NOON, why="Try for less")

    results = both_at_once(decide)
    assert "WrongState" in kinds(results)
    job.refresh_from_db()
    assert (job.state == State.RELEASED) is (job.rounds.count() == 1)


def test_two_workers_raise_one_flag(both_at_once: BothAtOnce) -> None:
    shop = make_shop()
    for number in range(10):
        make_job(
            shop,
            state=State.MEASURED,
            serial=f"C-{number}",
            achieved=EVEN if number < 5 else KNOCKED,
            at=NOON + timedelta(days=number),
        )
    both_at_once(lambda number: follow_drift(at=NOON))
    assert Flag.objects.count() == 1


@pytest.mark.parametrize("how", ["closed", "serviced"])
def test_a_flag_closed_while_a_job_is_learnt_is_not_raised_again(
    both_at_once: BothAtOnce, how: str
) -> None:
    """Whichever comes first, the next turn of the watch leaves nothing open."""
    shop = make_shop()
    for number in range(11):
        job = make_job(
            shop,
            state=State.MEASURED,
            serial=f"C-{number}",
            achieved=EVEN if number < 5 else KNOCKED,
            at=NOON + timedelta(days=number),
        )
        if number == 9:
            learning.learn(round_ids=[job.rounds.get().pk], at=NOON)
    flag = Flag.objects.get()
    after = NOON + timedelta(days=12)

    def act(number: int) -> object:
        if number:
            return learning.learn(round_ids=[job.rounds.get().pk], at=after)
        if how == "closed":
            found = FlagState.CAUSE_FOUND
            return flags.close_flag(flag=flag, state=found, why="Burr", by=shop.lead, at=after)
        kind = ServiceKind.REINDICATED
        return resources.record_service(subject=shop.fixture, kind=kind, by=shop.lead, at=after)

    results = both_at_once(act)
    assert not [one for one in results if isinstance(one, Exception)]
    outbox.drain()
    assert list(Flag.objects.values_list("state", flat=True)) == [
        FlagState.CAUSE_FOUND if how == "closed" else FlagState.CLEARED
    ]


def test_two_relays_never_claim_the_same_item(both_at_once: BothAtOnce) -> None:
    for number in range(20):
        outbox.ask("qc.learn", at=NOON, round_id=number)

    def claim_all(number: int) -> list[int]:
        taken: list[int] = []
        while (item := outbox.claim(timezone.now())) is not None:
            taken.append(item.pk)
        return taken

    first, second = both_at_once(claim_all)
    assert isinstance(first, list)
    assert isinstance(second, list)
    assert not set(first) & set(second)
    assert len(first) + len(second) == OutboxItem.objects.count()


def test_one_consumer_waits_and_finds_it_done(both_at_once: BothAtOnce) -> None:
    item = outbox.ask("qc.learn", at=NOON, round_id=1)
    effects: list[int] = []
    both_at_once(lambda number: outbox.consume(item.pk, lambda one: effects.append(one.pk)))
    assert effects == [item.pk]


def test_work_done_together_is_done_once(both_at_once: BothAtOnce) -> None:
    items = [outbox.ask("qc.learn", at=NOON, round_id=number) for number in range(6)]
    effects: list[int] = []
    both_at_once(
        lambda number: outbox.consume_together(
            items[number].pk, lambda some: effects.extend(one.pk for one in some)
        )
    )
    assert len(effects) == len(set(effects))
    assert {items[0].pk, items[1].pk} <= set(effects)
    done = OutboxItem.objects.filter(done_at__isnull=False).values_list("pk", flat=True)
    assert set(done) == set(effects)


def test_two_workers_learn_two_jobs_as_one_worker_would(both_at_once: BothAtOnce) -> None:
    shop = make_shop()
    for number in range(14):
        cut_job(shop, f"C-{number}", at=NOON + timedelta(days=number))
    last = [
        cut_job(shop, f"D-{day}", at=NOON + timedelta(days=day), height=0.58, learn=False)
        for day in (21, 20)
    ]
    both_at_once(lambda n: learning.learn(round_ids=[last[n].rounds.get().pk], at=NOON))
    kept = list(StoredChart.objects.values_list("key", "jobs", "state"))
    signals = set(Signal.objects.filter(withdrawn_at=None).values_list("rule", "lathe", "round"))
    assert {jobs for key, jobs, _ in kept if key.startswith("height_error")} == {16}
    learning.rebuild_all(at=NOON)
    assert list(StoredChart.objects.values_list("key", "jobs", "state")) == kept
    again = Signal.objects.filter(withdrawn_at=None).values_list("rule", "lathe", "round")
    assert set(again) == signals


def test_without_the_lock_a_job_is_stepped_twice_or_lost(
    both_at_once: BothAtOnce, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The control of the test above: both read the chart before either writes it."""
    shop = make_shop()
    job = cut_job(shop, "C-1", learn=False)
    met = threading.Barrier(2)

    def no_lock(kepts: list[ErrorChartKept]) -> list[StoredChart]:
        rows = [
            StoredChart.objects.get_or_create(
                kind=kept.kind, key=kept.key, defaults={"state": kept.fresh()}
            )[0]
            for kept in kepts
        ]
        met.wait(timeout=10)
        return rows

    monkeypatch.setattr(stored_charts, "lock", no_lock)
    chart = ErrorChartKept(Channel.HEIGHT_ERROR, SHOP)
    learnt = both_at_once(lambda n: stored_charts.bring_up(chart))
    assert [len(one.told) for one in learnt] == [1, 1]  # type: ignore[attr-defined]
    assert job.rounds.exists()
