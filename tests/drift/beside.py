"""What moves while a flag is open and nothing is done about it: a second knock, and nothing."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from qc.numerics.drift import watch_jobs
from tests.drift.conditions import turned
from tests.drift.shop import JOBS_A_YEAR, Change, season

# The first knock comes at job 120 to 170, the second here, on the fixture then used most.
SECOND_AT = 230


@dataclass(frozen=True)
class Beside:
    """own: jobs of the second fixture until it is flagged, inf where it never was. is_first_right:
    the channel's first flag after the second knock was about it."""

    own: float
    is_first_right: bool


def second_knock(size: float, first: float, seed: int) -> Beside:
    """Two fixtures knocked, side to side in mm; the first by none where it is 0."""
    one = season(seed, change=Change("fixture", first) if first else None)
    used = one.jobs.fixture
    taken = -1 if one.changed is None else one.changed[1]
    later = used[SECOND_AT:]
    who = int(np.argmax(np.bincount(later[later != taken])))
    mine = (used == who) & (np.arange(used.size) >= SECOND_AT)
    toward = np.random.default_rng([seed, 3]).uniform(0, 2 * np.pi)
    knock = size * np.array([np.cos(toward), np.sin(toward)])
    extra = turned(np.outer(mine, knock), one.jobs.clocking_deg)
    jobs = replace(one.jobs, tilt_achieved_mm=one.jobs.tilt_achieved_mm + extra)
    events = [
        event
        for event in one.events
        if (event.kind, event.resource) != ("fixture", who) or event.before_job <= SECOND_AT
    ]
    flags = [
        flag
        for flag in watch_jobs(jobs, events=events, on_flag="hold")
        if flag.channel == "tilt" and flag.job >= SECOND_AT
    ]
    about = [(flag.likeliest.kind, flag.likeliest.resource) == ("fixture", who) for flag in flags]
    hit = about.index(True) if True in about else None
    return Beside(
        own=np.inf if hit is None else float(mine[: flags[hit].job + 1].sum()),
        is_first_right=bool(about) and about[0],
    )


def left_alone(first: float, seed: int) -> tuple[int, float]:
    """Other flags of the tilt channel after the first right one, and the years looked at."""
    one = season(seed, change=Change("fixture", first))
    flags = [
        flag
        for flag in watch_jobs(one.jobs, events=one.events, on_flag="hold")
        if flag.channel == "tilt" and flag.job >= one.onset
    ]
    right = [(flag.likeliest.kind, flag.likeliest.resource) == one.changed for flag in flags]
    if True not in right:
        return 0, 0.0
    at = right.index(True)
    return len(flags) - at - 1, (len(one.jobs) - flags[at].job) / JOBS_A_YEAR
