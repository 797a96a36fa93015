"""The knocked fixture of the demo season is found, over twenty seeds the demo does not use."""

from __future__ import annotations

from statistics import mean, median

import pytest

from deploy.demo.season import KNOCK_MM, season
from tests.deploy.watched_season import UNTIL, watched

SEEDS = range(1001, 1021)


def test_the_knocked_fixture_is_flagged_and_named_and_few_others_are(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Bounds from tests/drift/REPORT.md: of knocks half as large, 0.040 mm, all are flagged within
    10 own jobs, at the median after 3 and nine of ten within 5, and 99 % are named; the 90 % set of
    an edge that wears by 0.001 mm a job holds it in 94 %. One false flag a season is wished for;
    heights scatter here by half of what the watch reckons with, so half of that may come."""
    seen = [watched(seed) for seed in SEEDS]
    own_jobs = sorted(one.own_jobs for one in seen if one.own_jobs is not None)
    named = sum(one.is_named for one in seen)
    wear = sum(one.is_wear_found for one in seen)
    false_flags = sum(one.false_flags for one in seen)
    size_mm = mean(one.size_mm for one in seen if one.size_mm is not None)
    with capsys.disabled():
        print(
            f"\ndemo seasons: {len(own_jobs)} of {len(seen)} knocks flagged, own jobs to the flag "
            f"{own_jobs}, {named} named alone, mean size then {size_mm:.3f} mm of {KNOCK_MM:.3f}; "
            f"wear found in {wear}; false flags {false_flags} in {len(seen)} seasons"
        )
    assert sum(own <= 10 for own in own_jobs) >= 19
    assert sum(own <= 4 for own in own_jobs) >= 18
    assert median(own_jobs) <= 3
    assert named >= 19
    assert size_mm == pytest.approx(KNOCK_MM, abs=0.015)
    assert wear >= 18
    assert false_flags <= len(seen) / 2


def test_the_same_seed_draws_the_same_season() -> None:
    one, other = season(5, until=UNTIL, jobs=30), season(5, until=UNTIL, jobs=30)
    assert [(a.at, a.fixture, a.found_mm.tolist()) for a in one] == [
        (b.at, b.fixture, b.found_mm.tolist()) for b in other
    ]
    assert one[0].found_mm.tolist() != season(6, until=UNTIL, jobs=30)[0].found_mm.tolist()


def test_jobs_come_in_order_and_end_on_the_day_of_loading() -> None:
    jobs = season(5, until=UNTIL)
    assert [one.at for one in jobs] == sorted(one.at for one in jobs)
    assert jobs[-1].at.date() == UNTIL.date()
