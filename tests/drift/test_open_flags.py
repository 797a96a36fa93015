"""What a watch does while flags are open: their stories go on, and other things are still seen."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from qc.numerics.drift import Budget, Event, Jobs, Watch, jobs, watch_jobs
from qc.numerics.drift.believed import believed
from qc.numerics.drift.granting import grant
from qc.numerics.drift.saving import restored, saved
from qc.numerics.drift.state import HYPOTHESES, STATES, copied
from qc.numerics.drift.suspects import probabilities, suspects_of
from tests.drift.conditions import turned
from tests.drift.shop import Change, Season, season
from tests.drift.shops import events_within, some_jobs

FIRST = season(4_200_000, n=260, change=Change("fixture", 0.080, earliest=100, latest=101))
A = FIRST.changed[1]
B = int(np.argmax(np.bincount(FIRST.jobs.fixture[FIRST.jobs.fixture != A])))
B_MOVED = 150


def with_another(one: Season) -> Jobs:
    """The same jobs, another fixture knocked by 0.080 mm at job B_MOVED as well."""
    moved = (one.jobs.fixture == B) & (np.arange(len(one.jobs)) >= B_MOVED)
    extra = turned(np.outer(moved, [0.080, 0.0]), one.jobs.clocking_deg)
    return replace(one.jobs, tilt_achieved_mm=one.jobs.tilt_achieved_mm + extra)


TOLD = with_another(FIRST)
# Nothing is done about either.
EVENTS = [
    event
    for event in FIRST.events
    if not (event.kind == "fixture" and event.resource in (A, B) and event.before_job > 100)
]


# So many jobs, and the flag about A is open.
FLAGGED = 120


def held(told: Jobs, until: int) -> Watch:
    watch = Watch(budget=Budget(), on_flag="hold")
    watch.take(some_jobs(told, 0, until), events=events_within(EVENTS, 0, until))
    return watch


def fixtures_flagged(told: Jobs, since: int) -> list[int]:
    flags = watch_jobs(told, events=EVENTS, on_flag="hold")
    return [
        flag.likeliest.resource
        for flag in flags
        if flag.channel == "tilt" and flag.likeliest.kind == "fixture" and flag.job >= since
    ]


@pytest.fixture(scope="module")
def both_open() -> Watch:
    return held(TOLD, 260)


def test_another_fixture_is_found_while_the_first_flag_is_open():
    assert fixtures_flagged(TOLD, 100)[:2] == [A, B]


def test_a_big_knock_left_alone_raises_nothing_else():
    assert fixtures_flagged(FIRST.jobs, 100) == [A]


def test_every_story_is_told_where_it_was_raised(both_open):
    tilt = both_open.channels["tilt"]
    for resource in (A, B):
        story = tilt.story("fixture", resource)
        chances = probabilities(story.state, story.arrays)
        assert story.keys[int(np.argmax(chances))] == ("fixture", resource)
        assert tilt.about("fixture", resource).state is story.state
        assert tilt.is_told(tilt.keys.index(("fixture", resource)))
    other = next(
        key for key in tilt.keys if key[0] == "fixture" and not tilt.is_told(tilt.keys.index(key))
    )
    assert tilt.about(*other).state is tilt.newest
    with pytest.raises(KeyError):
        tilt.story(*other)


def test_portions_give_the_same_bits_with_flags_open(both_open):
    watch, at = Watch(budget=Budget(), on_flag="hold"), 0
    for until in (90, 104, 125, 126, 151, 200, 260):
        watch.take(some_jobs(TOLD, at, until), events=events_within(EVENTS, at, until))
        at = until
    for name, channel in watch.channels.items():
        other = both_open.channels[name]
        assert [flag.place for flag in channel.open] == [flag.place for flag in other.open]
        for one, two in zip(channel.states, other.states, strict=True):
            n, h = int(one.counts[STATES]), int(one.counts[HYPOTHESES])
            assert np.array_equal(one.counts, two.counts)
            assert np.array_equal(one.x[:n], two.x[:n])
            assert np.array_equal(one.p[:n, :n], two.p[:n, :n])
            assert np.array_equal(one.evidence[:h], two.evidence[:h])


@pytest.mark.parametrize("what", ["serviced", "checked", "mended"])
def test_closing_the_first_leaves_the_second_open_and_named(what):
    watch = held(TOLD, 260)
    tilt = watch.channels["tilt"]
    watch.take(jobs(0), events=[Event(0, "fixture", A, what)])
    assert [tilt.keys[flag.place] for flag in tilt.open] == [("fixture", B)]
    story = tilt.story("fixture", B)
    chances = probabilities(story.state, story.arrays)
    assert story.keys[int(np.argmax(chances))] == ("fixture", B)
    place = tilt.keys.index(("fixture", A))
    for state in tilt.states:
        assert place not in state.who[: int(state.counts[HYPOTHESES])]
        assert (state.own[place] == 0) == (what != "checked")


def test_what_is_ruled_out_leaves_the_flag_open_and_the_rest_suspected():
    watch = held(FIRST.jobs, FLAGGED)
    tilt = watch.channels["tilt"]
    place = tilt.keys.index(("fixture", A))
    assert [flag.place for flag in tilt.open] == [place]
    second = next(key for key in tilt.keys if key != ("fixture", A))
    watch.take(jobs(0), events=[Event(0, *second, "ruled_out")])
    assert [flag.place for flag in tilt.open] == [place]
    story = tilt.story("fixture", A)
    assert probabilities(story.state, story.arrays)[tilt.keys.index(second)] == 0


def test_the_one_it_was_raised_about_may_be_ruled_out_and_serviced_while_others_are_in_question():
    watch = held(FIRST.jobs, FLAGGED)
    tilt = watch.channels["tilt"]
    watch.take(jobs(0), events=[Event(0, "fixture", A, "ruled_out")])
    watch = restored(saved(watch), budget=Budget())
    tilt = watch.channels["tilt"]
    watch.take(jobs(0), events=[Event(0, "fixture", A, "serviced")])
    assert [tilt.keys[flag.place] for flag in tilt.open] == [("fixture", A)]
    watch.take(jobs(0), events=[Event(0, "fixture", A, "closed")])
    assert not tilt.open


def test_a_story_with_nothing_held_against_anything_suspects_nobody():
    watch = held(FIRST.jobs, FLAGGED)
    tilt = watch.channels["tilt"]
    watch.take(jobs(0), events=[Event(0, *key, "ruled_out") for key in tilt.keys])
    story = tilt.story("fixture", A)
    assert suspects_of(story.state, story.arrays, story.keys) == ()


def test_mended_ends_a_story_that_suspects_it_whomever_it_was_raised_about():
    watch = held(FIRST.jobs, FLAGGED)
    tilt = watch.channels["tilt"]
    tilt.open[0].place = next(at for at, key in enumerate(tilt.keys) if key != ("fixture", A))
    watch.take(jobs(0), events=[Event(0, "fixture", A, "mended")])
    assert not tilt.open


def test_after_it_is_set_right_what_it_taught_the_filter_of_others_is_taken_back():
    """By 0.080 mm on one fixture the filter had moved what it thinks of the others too."""
    plain = season(4_200_000, n=260)
    never = Watch(budget=Budget(), on_flag="hold")
    never.take(some_jobs(plain.jobs, 0, FLAGGED), events=events_within(plain.events, 0, FLAGGED))
    watch = held(FIRST.jobs, FLAGGED)
    before = watch.channels["tilt"].state
    common = never.channels["tilt"].state.x[:2]
    off_before = np.hypot(*(before.x[:2] - common))
    watch.take(jobs(0), events=[Event(0, "fixture", A, "mended")])
    assert np.hypot(*(watch.channels["tilt"].state.x[:2] - common)) < off_before / 2


def test_granting_one_move_is_what_a_filter_with_that_move_as_a_state_gives():
    """Against Kalman's filter over all biases and the move's size itself, written out plainly."""
    n = 30
    draw = np.random.default_rng(5)
    fixture, onset = draw.integers(0, 3, n), 12
    read = draw.normal(0, 0.015, (n, 2)) + np.where(
        ((fixture == 1) & (np.arange(n) >= onset))[:, None], [0.03, -0.01], 0.0
    )
    told = jobs(n, fixture=fixture, clocking_deg=np.zeros(n), tilt_achieved_mm=read)
    watch = Watch(budget=Budget(), on_flag="hold")
    watch.budget = Budget(false_flags=1e-9)
    tilt = watch.channels["tilt"]
    # Errors are taken as plain normal of a size that is known.
    tilt.state.shape_weight[:, 0] = 1e15
    tilt.state.scale_sum[:] = tilt.state.scale_weight[:] = 1e15
    tilt.state.walk_evidence[0] = -1e3
    watch.take(told)
    state = copied(tilt.state)
    h = int(state.counts[HYPOTHESES])
    place = tilt.keys.index(("fixture", 1))
    first_own = int((fixture[: onset + 1] == 1).sum()) + int(fixture[onset] != 1)
    mine = np.flatnonzero(
        (state.who[:h] == place) & (state.onset[:h] == first_own) & (state.shape[:h] == 0)
    )
    assert mine.size == 1
    state.evidence[:h] = -np.inf
    state.evidence[mine] = 0.0
    grant(state, tilt.arrays)

    moved_from = int(np.flatnonzero((fixture == 1) & (np.arange(n) >= onset))[0])
    # Common, three fixtures, the move; one axis at a time, they being alike.
    for axis in (0, 1):
        x = np.zeros(5)
        p = np.diag([0.012**2, 0.006**2, 0.006**2, 0.006**2, 0.018**2])
        for job in range(n):
            p[1 + fixture[job], 1 + fixture[job]] += 1e-7
            row = np.array([1.0, 0, 0, 0, float(fixture[job] == 1 and job >= moved_from)])
            row[1 + fixture[job]] = 1.0
            spread = row @ p @ row + 0.0102**2 + 0.015**2
            gain = p @ row / spread
            x = x + gain * (read[job, axis] - row @ x)
            p = p - np.outer(gain, gain) * spread
        whole = np.eye(4, 5)
        whole[2, 4] = 1.0
        keys = [0, *(1 + tilt.keys.index(("fixture", one)) for one in range(3))]
        rows = [axis, *(2 * (1 + key) + axis for key in keys[1:])]
        np.testing.assert_allclose(state.x[rows], whole @ x, atol=1e-9)
        np.testing.assert_allclose(state.p[np.ix_(rows, rows)], whole @ p @ whole.T, atol=1e-12)


def test_a_belief_beside_an_open_flag_is_of_the_rest(both_open):
    """The fixture knocked second is as far out as it was knocked, whatever was flagged before."""
    tilt = both_open.channels["tilt"]
    belief = believed(tilt.about("fixture", B), kind="fixture", resource=B)
    assert belief.size == pytest.approx(0.080, abs=0.02)
