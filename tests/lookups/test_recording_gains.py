"""What recording more would buy, told from a shop's own jobs."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from qc.lookups.watch.recording_gains import Gain, recording_gains
from qc.lookups.watch.watch_now import watch_now
from qc.operations import resources
from qc.sentences import in_words
from tests.cutting import cut_job
from tests.make import NOON, Shop


def gains_of() -> list[Gain]:
    watch = watch_now()
    assert watch is not None
    return recording_gains(watch)


def told() -> list[tuple[str, str, str]]:
    return [(one.told.what, one.said["code"], in_words(one.said)) for one in gains_of()]


def cut_on(shop: Shop, days: range, **how: Any) -> None:
    """One job a day; the watch follows at the last one."""
    for day in days:
        at = NOON + timedelta(days=day)
        cut_job(shop, f"day-{day}", at=at, learn=day == days[-1], **how)


def test_what_is_missing_is_told_with_what_it_costs(shop: Shop) -> None:
    assert watch_now() is None
    cut_on(shop, range(4), clocking=None)
    assert told() == []
    cut_on(shop, range(4, 5), clocking=None)
    [(what, code, words)] = told()
    assert (what, code) == ("clocking", "found_at_all")
    assert words == (
        "The clocking is not recorded on 100 % of the last 5 jobs. Without it a fixture's move of "
        "0.020 mm is not found."
    )
    cut_on(shop, range(5, 6), positions=(0, 180))
    cut_on(shop, range(6, 10))
    # By hand: a pair of positions tells half of what four do, and a job without clocking nothing:
    # 4.5 of 10 jobs' worth is told now, 9.5 with clocking on all, 5 with four positions on all.
    gains = {one.told.what: one.told for one in gains_of()}
    assert set(gains) == {"clocking", "four_positions"}
    assert gains["clocking"].jobs_saved == pytest.approx(1 - 4.5 / 9.5, abs=0.01)
    assert gains["four_positions"].jobs_saved == pytest.approx(1 - 4.5 / 5, abs=0.01)
    clocking, four = (words for _, _, words in told())
    assert clocking.startswith("The clocking is not recorded on 50 % of the last 10 jobs.")
    assert four.startswith("The gap is read at fewer than four positions on 10 % of the last 10")


def test_a_fixture_whose_jobs_wait_to_be_learnt_from_is_passed_over(shop: Shop) -> None:
    cut_on(shop, range(1))
    other = resources.register_fixture(name="Plug B", by=shop.lead, at=NOON)
    for day in range(1, 6):
        at = NOON + timedelta(days=day)
        cut_job(shop, f"day-{day}", at=at, learn=False, fixture=other, clocking=None)
    [(what, code, _)] = told()
    assert (what, code) == ("clocking", "sooner_by_share")
