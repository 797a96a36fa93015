"""From measured jobs to a flag: raised once, on the right fixture, and closed by service."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from qc import outbox
from qc.lookups.charts.fixture_chart import fixture_chart
from qc.models import (
    ChartKind,
    Fixture,
    Flag,
    FlagState,
    Kind,
    OutboxItem,
    Reading,
    ServiceKind,
    Signal,
    State,
    StoredChart,
)
from qc.operations import flags, learning, readings, resources
from qc.units import mm
from tests.make import EVEN, NOON, Shop, make_job, make_shop

pytestmark = pytest.mark.django_db
# 0.08 mm side to side: wide toward 90 degrees of the engine's clock.
KNOCKED = {0: "0.50", 90: "0.54", 180: "0.50", 270: "0.46"}


def run(
    shop: Shop,
    fixture: Fixture,
    count: int,
    *,
    achieved: dict[int, str] = EVEN,
    start: datetime = NOON,
    clocking: int | None = 0,
) -> None:
    for number in range(count):
        at = start + timedelta(days=number)
        make_job(
            shop,
            state=State.MEASURED,
            serial=f"{fixture.pk}-{at:%m%d}",
            achieved=achieved,
            clocking=clocking,
            at=at,
            fixture=fixture,
        )
        outbox.drain()


def test_a_knock_raises_one_flag_that_says_when_and_toward_where() -> None:
    shop = make_shop()
    other = resources.register_fixture(name="Plug B", by=shop.lead, at=NOON)
    run(shop, other, 4)
    run(shop, shop.fixture, 4)
    assert not Flag.objects.exists()
    run(shop, shop.fixture, 4, achieved=KNOCKED, start=NOON + timedelta(days=10), clocking=30)
    flag = Flag.objects.get()
    assert flag.fixture == shop.fixture
    assert flag.state == FlagState.RAISED
    moved = flag.moved_at.results.get(is_current=True)
    assert moved.measured_at == NOON + timedelta(days=10, hours=2)
    # 0.06 mm more than before at r 19.4, wide toward 90 on the engine: 60 on the fixture's clock.
    assert flag.wide_toward_deg == pytest.approx(60, abs=12)
    assert flag.size == pytest.approx(0.062, abs=0.015)
    [likeliest, *_] = flag.suspects
    assert (likeliest["kind"], likeliest["key"]) == ("fixture", shop.fixture.pk)
    assert likeliest["probability"] > 0.9


def test_service_clears_the_flag_and_starts_a_new_stretch_with_or_without_clocking() -> None:
    shop = make_shop()
    run(shop, shop.fixture, 3)
    run(shop, shop.fixture, 5, achieved=KNOCKED, start=NOON + timedelta(days=10))
    serviced = NOON + timedelta(days=20)
    resources.record_service(
        subject=shop.fixture, kind=ServiceKind.REINDICATED, by=shop.lead, at=serviced
    )
    flag = Flag.objects.get()
    assert flag.state == FlagState.CLEARED
    assert flag.service is not None
    run(shop, shop.fixture, 1, start=serviced + timedelta(days=1), clocking=None)
    assert [one.state for one in Flag.objects.all()] == [FlagState.CLEARED]
    run(shop, shop.fixture, 2, start=serviced + timedelta(days=2))
    assert Flag.objects.count() == 1
    assert fixture_chart(shop.fixture).current_change is None


def test_one_wild_job_raises_no_flag() -> None:
    shop = make_shop()
    run(shop, shop.fixture, 6)
    wild = {0: "0.50", 90: "0.68", 180: "0.50", 270: "0.32"}
    run(shop, shop.fixture, 1, achieved=wild, start=NOON + timedelta(days=10))
    assert not Flag.objects.exists()


def test_a_flag_whose_readings_were_corrected_is_withdrawn() -> None:
    shop = make_shop()
    run(shop, shop.fixture, 6)
    run(shop, shop.fixture, 4, achieved=KNOCKED, start=NOON + timedelta(days=10))
    flag = Flag.objects.get()
    for position, right in ((90, "0.51"), (270, "0.49")):
        for wrong in Reading.objects.filter(
            set__at__gte=NOON + timedelta(days=10),
            kind=Kind.ACHIEVED,
            position_deg=position,
            voided_at=None,
        ):
            readings.void_reading(
                reading=wrong, why="Typo", replacement=mm(right), by=shop.operator, at=NOON
            )
    outbox.drain()
    flag.refresh_from_db()
    assert flag.state == FlagState.WITHDRAWN


def test_jobs_without_clocking_stay_off_the_fixtures_chart() -> None:
    shop = make_shop()
    run(shop, shop.fixture, 4, achieved=KNOCKED, clocking=None)
    assert len(fixture_chart(shop.fixture).jobs) == 0
    assert not Flag.objects.exists()


def test_closing_a_flag_by_hand_starts_a_new_stretch() -> None:
    shop = make_shop()
    run(shop, shop.fixture, 4)
    run(shop, shop.fixture, 5, achieved=KNOCKED, start=NOON + timedelta(days=10))
    flag = Flag.objects.get()
    flags.look_into(flag=flag, by=shop.operator, at=NOON)
    flags.close_flag(
        flag=flag,
        state=FlagState.CAUSE_FOUND,
        why="Chip under the register",
        by=shop.lead,
        at=NOON + timedelta(days=16),
    )
    run(shop, shop.fixture, 2, start=NOON + timedelta(days=17))
    assert list(Flag.objects.values_list("state", flat=True)) == [FlagState.CAUSE_FOUND]


def test_a_job_far_off_in_height_signals_once_for_the_shop_and_its_lathe() -> None:
    shop = make_shop()
    for number in range(14):
        wobble = dict.fromkeys(EVEN, f"{0.5 + 0.004 * (number * 7 % 5 - 2):.3f}")
        run(shop, shop.fixture, 1, achieved=wobble, start=NOON + timedelta(days=number))
    off = dict.fromkeys(EVEN, "0.620")
    run(shop, shop.fixture, 1, achieved=off, start=NOON + timedelta(days=20))
    fired = set(Signal.objects.values_list("channel", "rule", "lathe__name"))
    assert ("height_error", "individuals", None) in fired
    assert ("target_error", "individuals", "North lathe") in fired
    assert not Flag.objects.exists()
    # What was learnt already leaves no second signal.
    before = Signal.objects.count()
    round_ = Signal.objects.latest("pk").round
    outbox.ask("qc.learn", at=NOON, round_id=round_.pk)
    outbox.drain()
    assert Signal.objects.count() == before


def test_jobs_that_waited_together_teach_what_each_by_itself_would() -> None:
    shop = make_shop()
    for number in range(5):
        make_job(
            shop,
            state=State.MEASURED,
            serial=f"waited {number}",
            achieved=KNOCKED if number % 2 else EVEN,
            at=NOON + timedelta(days=number),
        )
    assert OutboxItem.objects.filter(done_at=None).count() == 5
    assert outbox.drain() == 1
    assert not OutboxItem.objects.filter(done_at=None).exists()
    assert StoredChart.objects.get(kind=ChartKind.DRIFT).jobs == 5
    for flag in Flag.objects.select_related("raised_by"):
        assert flag.raised_at >= flag.raised_by.results.get(is_current=True).measured_at
    assert not learning.rebuild_all(at=NOON + timedelta(days=9)).differed
