"""Putting a suspect right to see what the next jobs read: its flag stays open and is settled."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from qc.errors import BadInput
from qc.numerics.drift import Budget, Event, Jobs, Watch, jobs
from qc.numerics.drift.channel_watch import ChannelWatch
from qc.numerics.drift.putting_right import service_trials
from qc.numerics.drift.saving import restored, saved
from qc.numerics.drift.separating import every_job, job_trials
from qc.numerics.drift.state import HYPOTHESES
from qc.numerics.drift.suspects import Suspect, suspects_of
from tests.drift.shops import some_jobs

N, MOVED, RENEWED = 60, 30, 40
EDGE, LATHE = ("edge", 0), ("lathe", 0)
FRESH_EDGE = Event(RENEWED, *EDGE, "renewed")


def heights(*, goes_with: str, seed: int = 5) -> Jobs:
    """Two lathes with an edge each, whose first is out by 0.080 from MOVED on; where it was the
    edge, until that is changed."""
    draw = np.random.default_rng(seed)
    lathe = draw.integers(0, 2, N)
    at = np.arange(N)
    until = RENEWED if goes_with == "edge" else N
    out = 0.080 * ((lathe == 0) & (at >= MOVED) & (at < until))
    return jobs(N, lathe=lathe, edge=lathe, height_error_mm=out + draw.normal(0, 0.015, N))


def watched(told: Jobs, *, events: tuple[Event, ...] = (FRESH_EDGE,), until: int = N) -> Watch:
    """Errors are taken as plain normal of a size that is known."""
    watch = Watch(budget=Budget(), on_flag="hold")
    state = watch.channels["height"].state
    state.shape_weight[:, 0] = 1e15
    state.scale_sum[:] = state.scale_weight[:] = 1e15
    state.walk_evidence[0] = -1e3
    watch.take(some_jobs(told, 0, until), events=events)
    return watch


def story(watch: Watch) -> ChannelWatch:
    height = watch.channels["height"]
    assert len(height.open) == 1
    return height.story(*height.keys[height.open[0].place])


def suspects(watch: Watch) -> dict[tuple[str, int], float]:
    told = story(watch)
    found = suspects_of(told.state, told.arrays, told.keys)
    return {(one.kind, one.resource): one.probability for one in found}


@pytest.mark.parametrize(("goes_with", "was_it"), [("edge", EDGE), ("lathe", LATHE)])
def test_the_jobs_after_it_say_which_it_was(goes_with, was_it):
    told = heights(goes_with=goes_with)
    before = suspects(watched(told, until=RENEWED))
    assert max(before[EDGE], before[LATHE]) < 0.8
    just_done = suspects(watched(told, until=RENEWED, events=(Event(RENEWED, *EDGE, "renewed"),)))
    assert just_done == pytest.approx(before)
    assert suspects(watched(told))[was_it] > 0.95


def test_its_evidence_is_that_of_all_readings_at_once():
    """Against the normal density of all of them (scipy.stats.multivariate_normal), with the move
    and without."""
    told = heights(goes_with="edge")
    of = story(watched(told))
    state, h = of.state, int(of.state.counts[HYPOTHESES])
    onset = int(np.flatnonzero((told.lathe == 0) & (np.arange(N) >= MOVED))[0])
    held = np.flatnonzero(
        (state.who[:h] == of.held_at(of.keys.index(EDGE)))
        & (state.onset_job[:h] == onset)
        & (state.shape[:h] == 0)
    )
    assert held.size == 1
    at = np.arange(N)
    same = told.lathe[:, None] == told.lathe
    fresh = (told.edge == 0) & (at >= RENEWED)
    own = np.cumsum(told.lathe[:, None] == np.arange(2), axis=0)[at, told.lathe]
    own_edge = np.where(fresh, own - own[(told.edge == 0) & (at < RENEWED)].max(), own)
    cov = 0.030**2 + 0.020**2 * np.eye(N)
    cov += same * (0.010**2 + 1e-7 * np.minimum(own[:, None], own))
    alike = same & (fresh[:, None] == fresh)
    cov += alike * (0.006**2 + 1e-7 * np.minimum(own_edge[:, None], own_edge))
    moved = ((told.edge == 0) & (at >= onset) & ~fresh).astype(float)
    y = told.height_error_mm
    none = multivariate_normal(np.zeros(N), cov).logpdf(y)
    with_it = multivariate_normal(np.zeros(N), cov + 0.020**2 * np.outer(moved, moved)).logpdf(y)
    assert state.evidence[held[0]] == pytest.approx(with_it - none, abs=1e-4)


def test_in_portions_and_written_down_it_is_the_same():
    told = heights(goes_with="lathe")
    whole = watched(told)
    parts = watched(told, until=35, events=())
    for start, stop in ((35, RENEWED), (RENEWED, 47), (47, N)):
        parts = restored(saved(parts), budget=Budget())
        events = [Event(0, *EDGE, "renewed")] if start == RENEWED else []
        parts.take(some_jobs(told, start, stop), events=events)
    for one, other in zip(
        whole.channels["height"].states, parts.channels["height"].states, strict=True
    ):
        counts = one.counts
        assert (counts == other.counts).all()
        for name in ("x", "evidence", "who"):
            size = counts[HYPOTHESES] if name != "x" else counts[0]
            assert (getattr(one, name)[:size] == getattr(other, name)[:size]).all()


def test_a_resource_met_since_has_the_same_place_in_any_portions():
    told = heights(goes_with="lathe")
    others = np.arange(N) >= RENEWED + 2
    told = replace(
        told,
        lathe=np.where(others, told.lathe + 7, told.lathe),
        edge=np.where(others, told.edge + 7, told.edge),
    )
    whole = saved(watched(told))
    done = [Event(0, *EDGE, "renewed")]
    for cuts in ([RENEWED], [RENEWED, RENEWED + 1], range(RENEWED, N)):
        for is_told_at_once in (True, False):
            watch = watched(told, until=RENEWED, events=())
            if is_told_at_once:
                watch.take(jobs(0), events=done)
            for start, stop in pairwise([*cuts, N]):
                is_now = start == RENEWED and not is_told_at_once
                watch.take(some_jobs(told, start, stop), events=done if is_now else [])
            assert saved(watch) == whole


def test_it_is_no_advice_twice_but_a_job_is():
    of = story(watched(heights(goes_with="lathe"), until=RENEWED))
    edge, lathe = Suspect(*EDGE, 0.5), Suspect(*LATHE, 0.5)
    possible = every_job("height", edge=[0], lathe_of={0: 0})
    with pytest.raises(BadInput, match="put right already"):
        service_trials(of, edge, lathe, possible=possible)
    [trial] = job_trials(of, edge, lathe, possible=possible)
    assert trial.nats > 1


def test_found_in_it_the_rest_is_as_it_was_and_its_jobs_since_stand():
    told = heights(goes_with="edge")
    watch = watched(told)
    height = watch.channels["height"]
    place = height.keys.index(EDGE)
    own = int(height.state.own[place])
    watch.take(jobs(0), events=[Event(0, *EDGE, "mended")])
    assert not height.open
    assert int(height.state.own[place]) == own > 0
    off = {key: height.state.x[1 + at] for at, key in enumerate(height.keys)}
    assert abs(off[LATHE] - off["lathe", 1]) < 0.010


@pytest.mark.parametrize("what", ["ruled_out", "serviced", "checked"])
def test_what_is_done_about_it_afterwards_drops_what_was_held_against_it(what):
    watch = watched(heights(goes_with="lathe"), until=45)
    watch.take(jobs(0), events=[Event(0, *EDGE, what)])
    for state in watch.channels["height"].states:
        height = watch.channels["height"]
        held = {height.keys[at] for at in state.who[: state.counts[HYPOTHESES]].tolist()}
        assert EDGE not in held
        assert all(key[1] >= 0 for key in held)


@pytest.mark.parametrize("goes_with", ["edge", "lathe"])
def test_a_flag_closed_on_another_leaves_no_question_of_what_it_was(goes_with):
    told = heights(goes_with=goes_with)
    watch = watched(told, until=44)
    height = watch.channels["height"]
    assert [height.keys[flag.place] for flag in height.open] == [LATHE]
    watch.take(jobs(0), events=[Event(0, *LATHE, "checked")])
    assert not height.open
    state = height.state
    held = {height.keys[at] for at in state.who[: state.counts[HYPOTHESES]].tolist()}
    assert held
    assert all(key[1] >= 0 for key in held)
    watch.take(some_jobs(told, 44, N))
    assert all(height.keys[flag.place][1] >= 0 for flag in height.open)


def test_with_no_flag_open_it_is_a_service():
    told = heights(goes_with="lathe")
    ways = [
        watched(told, until=20, events=(Event(10, *EDGE, what),))
        for what in ("renewed", "serviced")
    ]
    one, other = (watch.channels["height"] for watch in ways)
    assert one.keys == other.keys
    assert (one.state.x == other.state.x).all()
