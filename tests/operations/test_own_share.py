"""The shop's own carry-through: pooled from its clocking tests, and taken by a lead."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

from qc.errors import BadInput, ChangedMeanwhile, NotAllowed
from qc.lookups.record.carry_through import own_share
from qc.lookups.shop.policy import policy_history
from qc.models import JournalEntry, Kind, Round, State
from qc.operations.policy import ensure_policy, take_own_share, told_share
from tests.clocked import FAR_LEAN, clocked_job, indicate, two_planes
from tests.make import NOON, Shop, make_job, make_shop

pytestmark = pytest.mark.django_db


SMALL = {
    "first": {0: "0.604", 90: "0.602", 180: "0.600", 270: "0.602"},
    "second": {0: "0.500", 90: "0.501", 180: "0.502", 270: "0.501"},
}


@pytest.fixture
def shop() -> Shop:
    shop = make_shop()
    two_planes(shop)
    return shop


def run_tests(shop: Shop, *serials: str) -> None:
    """A lean of 4 mrad could make 0.0776 at a radius of 19.4; turned half round, the gap's tilt
    fell from +0.04 to -0.02, which is twice 0.387 of that."""
    for serial in serials:
        clocked_job(shop, serial=serial, **FAR_LEAN)


def test_no_test_says_nothing(shop: Shop) -> None:
    make_job(shop, state=State.MEASURED)
    assert own_share() is None
    with pytest.raises(BadInput):
        take_own_share(by=shop.lead, at=NOON, seen="")


def test_two_tests_are_pooled(shop: Shop) -> None:
    """Each says 0.03 / 0.0776 = 0.3866 with the same uncertainty: the mean, and u by root 2."""
    run_tests(shop, "C-1")
    one = own_share()
    run_tests(shop, "C-2")
    both = own_share()
    assert one is not None
    assert both is not None
    assert one.value == pytest.approx(0.03 / 0.0776, rel=1e-3)
    assert [len(one.tests), len(both.tests)] == [1, 2]
    assert both.value == pytest.approx(one.value, rel=1e-3)
    assert both.u == pytest.approx(one.u / 2**0.5, rel=1e-3)


def test_tests_that_share_a_run_count_once(shop: Shop) -> None:
    run_tests(shop, "C-1")
    second = Round.objects.get(number=2)
    shared = {**second.clocking_test, "second": {"round_id": 0, "job": 1, "round": 3}}
    Round.objects.create(job=second.job, number=3, opened_at=NOON, clocking_test=shared)
    own = own_share()
    assert own is not None
    assert [one.round for one in own.tests] == [3]


def test_a_lead_takes_it_and_the_history_says_why(shop: Shop) -> None:
    run_tests(shop, "C-1", "C-2")
    own = own_share()
    assert own is not None
    taken = take_own_share(by=shop.lead, at=NOON, seen=told_share(own))
    assert taken.carry_through == Decimal("0.387")
    assert float(taken.carry_through_u) == pytest.approx(own.u, abs=0.0005)
    newest = policy_history()[0]
    assert {one.name for one in newest.choices} == {"carry_through", "carry_through_u"}
    assert newest.why.count(" round 2") == 2
    assert JournalEntry.objects.filter(action="policy.changed").count() == 1
    # What is indicated from now on is told with the share: 0.387 of at most 0.00776.
    job = make_job(shop, state=State.SET_UP, serial="C-3")
    indicate(shop, job, Kind.INDICATED_TIGHT)
    lean = job.rounds.get().indicated["tight"]["lean"]
    assert lean["gap_expected_mm"] == pytest.approx(0.387 * 0.00776, rel=1e-3)


def test_an_estimate_that_changed_meanwhile_is_not_taken(shop: Shop) -> None:
    run_tests(shop, "C-1")
    with pytest.raises(ChangedMeanwhile):
        take_own_share(by=shop.lead, at=NOON, seen="0.900 ± 0.010")
    assert ensure_policy(at=NOON).carry_through is None


@pytest.mark.parametrize("told", [{}, SMALL], ids=["beyond one", "no surer than nothing"])
def test_a_share_that_says_too_little_is_not_taken(shop: Shop, told: dict[str, Any]) -> None:
    """0.015 where at most 0.00388 could be; and 0.0015 of it, which 0.005 of noise drowns."""
    clocked_job(shop, **told)
    own = own_share()
    assert own is not None
    assert not own.is_sensible
    with pytest.raises(BadInput, match="too little"):
        take_own_share(by=shop.lead, at=NOON, seen=told_share(own))


def test_only_a_lead_may(shop: Shop) -> None:
    with pytest.raises(NotAllowed):
        take_own_share(by=shop.operator, at=NOON, seen="")
