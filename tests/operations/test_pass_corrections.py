"""A dial typed wrong, at touch-off or at a pass, put right after the engine was measured."""

from __future__ import annotations

from datetime import timedelta

import pytest

from qc.errors import BadInput
from qc.models import JobResult, Kind, Pass, Reading, State
from qc.operations import lathe_passes, readings
from qc.units import mm
from tests.make import NOON, make_job, make_shop

pytestmark = pytest.mark.django_db
LATER = NOON + timedelta(hours=4)


def depth_now() -> str:
    return str(JobResult.objects.get(is_current=True).depth_cut_mm)


def test_a_replaced_last_pass_changes_the_depth() -> None:
    """Touch-off 2.00, last pass 2.52 typed for 2.50: 0.50 came off, not 0.52."""
    shop = make_shop()
    make_job(shop, state=State.MEASURED)
    last = Pass.objects.get(number=2)
    lathe_passes.void_pass(
        taken=last, why="Misread", replacement=mm("2.50"), by=shop.operator, at=LATER
    )
    assert depth_now() == "0.500000"
    assert [one.voided_at is None for one in Pass.objects.filter(number=2).order_by("pk")] == [
        False,
        True,
    ]


def test_a_replaced_early_pass_leaves_the_depth() -> None:
    shop = make_shop()
    make_job(shop, state=State.MEASURED)
    first = Pass.objects.get(number=1)
    lathe_passes.void_pass(
        taken=first, why="Misread", replacement=mm("2.24"), by=shop.operator, at=LATER
    )
    assert depth_now() == "0.520000"


def test_a_replacement_before_touch_off_is_refused_and_nothing_is_void() -> None:
    shop = make_shop()
    make_job(shop, state=State.MEASURED)
    with pytest.raises(BadInput) as refused:
        lathe_passes.void_pass(
            taken=Pass.objects.get(number=2),
            why="Misread",
            replacement=mm("1.50"),
            by=shop.operator,
            at=LATER,
        )
    assert refused.value.fields == ("replacement",)
    assert Pass.objects.filter(voided_at=None).count() == 2


def test_a_replaced_touch_off_makes_a_new_revision() -> None:
    """Touch-off 2.00 typed for 2.02: 0.50 came off, not 0.52."""
    shop = make_shop()
    make_job(shop, state=State.MEASURED)
    touched = Reading.objects.get(kind=Kind.TOUCH_OFF)
    readings.void_reading(
        reading=touched, why="Misread", replacement=mm("2.02"), by=shop.operator, at=LATER
    )
    assert depth_now() == "0.500000"
    assert JobResult.objects.count() == 2
