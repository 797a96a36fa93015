"""A drift watch that is written down and read back goes on as if it never had been."""

from __future__ import annotations

from dataclasses import fields
from itertools import pairwise
from types import ModuleType

import numpy as np
import pytest

from qc.errors import BadInput
from qc.numerics.drift import (
    Budget,
    Event,
    Jobs,
    Watch,
    channel_settings,
    defaults,
    onsets,
    saving,
)
from qc.numerics.drift.state import as_plain
from tests.drift.shop import Change, Season, season

BUDGET = Budget(false_flags=1.0, jobs=250.0)


def part(told: Season, start: int, stop: int) -> tuple[Jobs, list[Event]]:
    rows = {one.name: getattr(told.jobs, one.name)[start:stop] for one in fields(Jobs)}
    events = [
        Event(one.before_job - start, one.kind, one.resource, one.what)
        for one in told.events
        if start <= one.before_job < stop
    ]
    return Jobs(**rows), events


def test_a_watch_kept_between_jobs_ends_where_one_never_put_away_does() -> None:
    told = season(11, n=150, change=Change("fixture", 0.06, earliest=60, latest=70))
    straight, flags = Watch(budget=BUDGET), []
    jobs, events = part(told, 0, 150)
    flags = straight.take(jobs, events=events)
    assert flags
    text, kept_flags = saving.saved(Watch(budget=BUDGET)), []
    for start, stop in pairwise([0, 1, 2, 40, 75, 110, 149, 150]):
        watch = saving.restored(text, budget=BUDGET)
        jobs, events = part(told, start, stop)
        kept_flags += [(flag.job + start, flag) for flag in watch.take(jobs, events=events)]
        text = saving.saved(watch)
    assert text == saving.saved(straight)
    assert [(at, one.channel, one.suspects, one.move) for at, one in kept_flags] == [
        (one.job, one.channel, one.suspects, one.move) for one in flags
    ]


def test_every_number_comes_back_to_the_bit() -> None:
    told = season(12, n=30)
    watch = Watch(budget=BUDGET)
    watch.take(part(told, 0, 30)[0])
    back = saving.restored(saving.saved(watch), budget=BUDGET)
    for name, channel in watch.channels.items():
        other = back.channels[name]
        assert other.keys == channel.keys
        assert [flag.place for flag in other.open] == [flag.place for flag in channel.open]
        for one, two in zip(
            as_plain(channel.state).values(),
            as_plain(other.state).values(),
            strict=True,
        ):
            assert one.dtype == two.dtype
            np.testing.assert_array_equal(one, two)


@pytest.mark.parametrize(
    ("module", "name"),
    [(defaults, "READ_SD"), (onsets, "SPARSE_FROM"), (channel_settings, "RIVAL_WALK")],
)
def test_whatever_the_sums_assume_marks_their_states(
    module: ModuleType, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = saving.sums_mark()
    assert before == saving.sums_mark()
    monkeypatch.setattr(module, name, 2 * getattr(module, name))
    assert saving.sums_mark() != before


def test_a_state_of_other_sums_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    text = saving.saved(Watch(budget=BUDGET))
    monkeypatch.setattr(saving, "LAYOUT", saving.LAYOUT + 1)
    with pytest.raises(BadInput, match="run its jobs again"):
        saving.restored(text, budget=BUDGET)
