"""A shop as it stands after some of its jobs: what the tests of one question start from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from qc.numerics.drift import Budget, Event, Jobs, Watch
from tests.drift.shop import Season


def some_jobs(jobs: Jobs, first: int, last: int) -> Jobs:
    """Rows first..last - 1."""
    return Jobs(**{name: getattr(jobs, name)[first:last] for name in Jobs.__dataclass_fields__})


def events_within(events: Sequence[Event], first: int, last: int) -> list[Event]:
    """Those before rows first..last - 1, counted from the first of them."""
    return [
        replace(event, before_job=event.before_job - first)
        for event in events
        if first <= event.before_job < last
    ]


def watched(season: Season, *, until: int) -> Watch:
    """Nothing is done about any flag."""
    watch = Watch(budget=Budget(), on_flag="hold")
    watch.take(some_jobs(season.jobs, 0, until), events=events_within(season.events, 0, until))
    return watch
