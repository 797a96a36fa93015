"""Two jobs of one cylinder judged at once are held against each other all the same."""

from __future__ import annotations

import time
from datetime import timedelta

import pytest

from qc.models import Job, Kind, Round, State
from qc.operations import answers, readings, steps
from qc.units import mm
from tests.make import EVEN, NOON, gaps, make_cylinder, make_job, make_shop
from tests.races.conftest import BothAtOnce

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]


def clocking_tests_kept(both_at_once: BothAtOnce, monkeypatch: pytest.MonkeyPatch) -> int:
    """Both are measured at once, at two clockings of one fixture; how many clocking tests are
    kept. Each takes a while from reading the other's results to its commit."""
    shop = make_shop()
    cylinder = make_cylinder(shop)
    jobs = [
        make_job(shop, state=State.CUT, cylinder=cylinder, clocking=clocking)
        for clocking in (0, 180)
    ]
    read = answers.clocking_tests

    def slowly(*asked: object, **how: object) -> object:
        seen = read(*asked, **how)  # type: ignore[arg-type]
        time.sleep(0.3)
        return seen

    monkeypatch.setattr(answers, "clocking_tests", slowly)

    def measure(number: int) -> object:
        return readings.record_gap_readings(
            job=Job.objects.get(pk=jobs[number].pk),
            kind=Kind.ACHIEVED,
            readings=gaps(EVEN),
            gauge=shop.gauge,
            base_gasket=mm("0.50"),
            by=shop.operator,
            at=NOON + timedelta(hours=2 + number),
        )

    assert [type(one).__name__ for one in both_at_once(measure)] == ["ReadingSet"] * 2
    return Round.objects.filter(clocking_test__isnull=False).count()


def test_the_second_of_them_makes_the_clocking_test(
    both_at_once: BothAtOnce, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert clocking_tests_kept(both_at_once, monkeypatch) == 1


def test_the_harness_sees_the_race(
    both_at_once: BothAtOnce, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without the cylinder held neither sees the other; else the test above proves nothing."""
    monkeypatch.setattr(steps, "hold_cylinder", lambda job: None)
    assert clocking_tests_kept(both_at_once, monkeypatch) == 0
