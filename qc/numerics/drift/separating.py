"""The one next job, or check, that tells two suspects apart best.

A possible job is worth the expected log likelihood ratio between "the first moved" and "the second
moved" that its readings would give: half the squared distance between what the two lead one to
expect, in the readings' own covariance. For gauges there is a check worth many jobs: one cylinder
measured with both, in which the engine, the cut and the hands cancel. What putting one of the two
right first is worth: see putting_right.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import ndtr

from qc.errors import BadInput
from qc.numerics.drift.channel_watch import ChannelWatch
from qc.numerics.drift.forecast import (
    Outlook,
    begin,
    copy_of,
    place_of,
    readings_for,
    resources_in,
    seen_from,
)
from qc.numerics.drift.jobs import Jobs, jobs
from qc.numerics.drift.readings import MOST_INVOLVED
from qc.numerics.drift.suspects import NAMED_AT, Suspect, probabilities
from qc.numerics.results import FloatArray

# Standard deviation of the difference between two gauges on one cylinder: four positions, two or
# three pieces each, pieces alike to 0.010 mm.
BOTH_GAUGES_SD_MM = 0.005
# Possible jobs looked at together: their readings' covariance grows with the square of it.
AT_ONCE = 64
_LOG_ODDS_NAMED = math.log(NAMED_AT / (1 - NAMED_AT))


@dataclass(frozen=True)
class Trial:
    """One way to tell two suspects apart.

    what: "job", done as `row` of the possible jobs says; "both_gauges", one cylinder measured
    with each of `gauges`; "after_service", that job once `serviced` is put right. nats: expected
    log likelihood ratio in favour of whichever moved. settles: probability that one of the two is
    then at least 80 % likely, the other being the only alternative.
    """

    what: Literal["job", "both_gauges", "after_service"]
    row: int | None
    gauges: tuple[int, int] | None
    nats: float
    settles: float
    serviced: Suspect | None = None


# One job read as fully as a job can be: tilts at four positions and as found, repeats of three.
FULLY_READ = jobs(
    1,
    tilt_found_mm=[(0.0, 0.0)],
    tilt_achieved_mm=[(0.0, 0.0)],
    height_error_mm=[0.0],
    spread_mm=[0.010],
    spread_df=[8],
)
_READ = {
    "tilt": ("tilt_found_mm", "found_axis_deg", "tilt_achieved_mm", "achieved_axis_deg"),
    "height": ("height_error_mm",),
    "spread": ("spread_mm", "spread_df"),
}


def every_job(
    channel: str,
    *,
    lathe_of: Mapping[int, int] | None = None,
    read_as: Jobs = FULLY_READ,
    **free: Sequence[float],
) -> Jobs:
    """All jobs that can be made up of what is free: each column of Jobs with its choices.

    channel: whose readings they will give. lathe_of: each edge's lathe, where `edge` is free.
    read_as: one job; what was read of it, and toward where, is read of each. A column left out
    stays unknown.

    Raises BadInput for an unknown column or channel, or a column with no choice.
    """
    for name, choices in free.items():
        if not len(choices):
            raise BadInput(why=f"{name} has no choice; leave it out where it is not known.")
    if lathe_of is not None and "edge" not in free:
        raise BadInput(why="Say which edges are free, or leave lathe_of out.")
    rows = np.array(list(product(*free.values())), dtype=np.float64)
    n = rows.shape[0]
    if channel not in _READ:
        raise BadInput(why=f"No {channel} channel; there are {', '.join(_READ)}.")
    read = {name: np.repeat(getattr(read_as, name), n, axis=0) for name in _READ[channel]}
    columns: dict[str, ArrayLike] = dict(zip(free, rows.T, strict=True))
    if lathe_of is not None:
        columns["lathe"] = [lathe_of.get(int(edge), -1) for edge in np.atleast_1d(columns["edge"])]
    return jobs(n, **columns, **read)


def job_trials(
    channel: ChannelWatch, first: Suspect, second: Suspect, *, possible: Jobs
) -> list[Trial]:
    """What each possible job is worth, in their order.

    Raises BadInput where a suspect is not the channel's, the two are one, or nothing is held
    against one of them.
    """
    ready, places = _ready(channel, first, second, possible)
    odds = odds_between(channel, places)
    nats = [
        one
        for start in range(0, len(possible), AT_ONCE)
        for one in _worth(ready, places, possible.of(slice(start, start + AT_ONCE)))
    ]
    return [
        Trial(what="job", row=job, gauges=None, nats=one, settles=settles(one, odds))
        for job, one in enumerate(nats)
    ]


def _worth(ready: ChannelWatch, places: tuple[int, int], possible: Jobs) -> Iterator[float]:
    """The nats of each of these jobs."""
    seen = seen_from(ready, readings_for(ready, possible), least_weight=0.0)
    for job in range(len(possible)):
        mine = seen.readings_of(job)
        noise = np.diag(seen.noise_var[mine])
        yield _nats(seen, mine, places, seen.cov[mine, mine] + noise)


def both_gauges(
    height: ChannelWatch,
    first: Suspect,
    second: Suspect,
    *,
    gauges: tuple[int, int],
    sd_mm: float = BOTH_GAUGES_SD_MM,
) -> Trial:
    """What measuring one cylinder with both gauges is worth.

    sd_mm: of the difference the two then show, from the readings alone.
    Raises BadInput as job_trials does, and for one gauge twice or sd_mm not above 0.
    """
    if gauges[0] == gauges[1] or not sd_mm > 0:
        raise BadInput(why="Name two different gauges, and a standard deviation above 0.")
    pair = jobs(2, gauge_achieved=gauges, height_error_mm=np.zeros(2))
    ready, places = _ready(height, first, second, pair)
    seen = seen_from(ready, readings_for(ready, pair), least_weight=0.0)
    apart = np.array([[1.0, -1.0]])
    cov = apart @ seen.cov @ apart.T + sd_mm**2
    nats = _nats(seen, slice(0, 2), places, cov, seen_as=apart)
    return Trial(
        what="both_gauges",
        row=None,
        gauges=gauges,
        nats=nats,
        settles=settles(nats, odds_between(height, places)),
    )


def best_trial(
    channel: ChannelWatch,
    suspects: Sequence[Suspect],
    *,
    possible: Jobs,
    gauges: Sequence[int] = (),
    both_gauges_sd_mm: float = BOTH_GAUGES_SD_MM,
) -> Trial | None:
    """The trial worth most between the two leading suspects; None where there are not two, or none
    can tell them apart.

    possible: see every_job. gauges: those at hand; each pair of them is tried where a gauge is
    among the two.
    """
    if len(suspects) < 2:
        return None
    first, second = suspects[:2]
    trials = job_trials(channel, first, second, possible=possible) if len(possible) else []
    if channel.settings.name == "height" and "gauge" in (first.kind, second.kind):
        known = [one for one in gauges if ("gauge", one) in channel.keys]
        trials += [
            both_gauges(channel, first, second, gauges=(a, b), sd_mm=both_gauges_sd_mm)
            for at, a in enumerate(known)
            for b in known[at + 1 :]
        ]
    best = max(trials, key=lambda trial: trial.nats, default=None)
    return best if best is not None and best.nats > 1e-9 else None


def settles(nats: float, log_odds: float) -> float:
    """Probability that one of two is then at least 80 % likely, from log_odds between them.

    The log likelihood ratio to come is normal with mean +-nats and variance 2 nats.
    """
    if nats <= 0:
        return float(abs(log_odds) >= _LOG_ODDS_NAMED)
    sd = math.sqrt(2 * nats)
    first = 1 / (1 + math.exp(-log_odds))
    chance = 0.0
    for share, mean in ((first, log_odds + nats), (1 - first, log_odds - nats)):
        beyond = ndtr((mean - _LOG_ODDS_NAMED) / sd) + ndtr((-_LOG_ODDS_NAMED - mean) / sd)
        chance += share * float(beyond)
    return chance


def _ready(
    channel: ChannelWatch, first: Suspect, second: Suspect, possible: Jobs
) -> tuple[ChannelWatch, tuple[int, int]]:
    """The channel with a new engine in hand, and the suspects' places."""
    places = tuple(
        channel.held_at(place_of(channel, one.kind, one.resource)) for one in (first, second)
    )
    if places[0] == places[1]:
        raise BadInput(why="Name two different suspects.")
    ready = copy_of(channel)
    ready.meet(resources_in(possible, channel=channel))
    begin(ready, np.full(MOST_INVOLVED, -1))
    return ready, (places[0], places[1])


def odds_between(channel: ChannelWatch, places: tuple[int, int]) -> float:
    """Log odds of the first against the second, by place.

    Raises BadInput where nothing is held against one.
    """
    chances = probabilities(channel.state, channel.arrays)
    if not all(chances[place] > 0 for place in places):
        raise BadInput(why="Nothing is held against one of the suspects.")
    return float(np.log(chances[places[0]] / chances[places[1]]))


def _nats(
    seen: Outlook,
    mine: slice,
    places: tuple[int, int],
    cov: FloatArray,
    *,
    seen_as: FloatArray | None = None,
) -> float:
    """Half the squared distance between what the two suspects lead one to expect.

    seen_as (k, m): sums of the readings that are looked at; the readings themselves if None.
    How unsure each move's size is adds to the covariance, half and half.
    """
    apart, unsure = np.zeros(cov.shape[0]), np.zeros(cov.shape)
    for sign, place in zip((1.0, -1.0), places, strict=True):
        held = np.flatnonzero(seen.who == place)
        if not held.size:
            continue
        weight = seen.weight[held] / seen.weight[held].sum()
        effect = seen.effect[held, mine]
        if seen_as is not None:
            effect = np.einsum("km,hmd->hkd", seen_as, effect)
        expected = np.einsum("hmd,hd->hm", effect, seen.move[held])
        mean = weight @ expected
        apart += sign * mean
        spread = np.einsum("h,hmd,hde,hke->mk", weight, effect, seen.move_cov[held], effect)
        off = expected - mean
        unsure += (spread + np.einsum("h,hm,hk->mk", weight, off, off)) / 2
    return float(apart @ np.linalg.solve(cov + unsure, apart) / 2)
