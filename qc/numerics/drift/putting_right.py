"""What a job is worth for telling two suspects apart once one of them has been put right.

If it was that one, its move is gone and the job reads as of old; if it was the other, the job shows
that one's move as before. So even two that every job uses together come apart.
"""

from __future__ import annotations

import numpy as np

from qc.errors import BadInput
from qc.numerics.drift.channel_watch import ChannelWatch
from qc.numerics.drift.excess import put_right
from qc.numerics.drift.forecast import (
    Outlook,
    begin,
    copy_of,
    place_of,
    readings_for,
    resources_in,
    seen_from,
)
from qc.numerics.drift.jobs import Jobs
from qc.numerics.drift.readings import MOST_INVOLVED
from qc.numerics.drift.separating import AT_ONCE, Trial, odds_between, settles
from qc.numerics.drift.suspects import Suspect


def is_right_already(channel: ChannelWatch, suspect: Suspect) -> bool:
    """Whether it was put right while the flag that suspects it stayed open.

    Raises BadInput where the channel has no job of it."""
    place = place_of(channel, suspect.kind, suspect.resource)
    return channel.held_at(place) != place


def service_trials(
    channel: ChannelWatch, serviced: Suspect, other: Suspect, *, possible: Jobs
) -> list[Trial]:
    """What each possible job is worth after a service of the one, in their order.

    Raises BadInput where a suspect is not the channel's, the two are one, nothing is held against
    one of them, or the one was put right already.
    """
    if is_right_already(channel, serviced):
        raise BadInput(why="That one was put right already.")
    mine = place_of(channel, serviced.kind, serviced.resource)
    places = (mine, channel.held_at(place_of(channel, other.kind, other.resource)))
    if places[0] == places[1]:
        raise BadInput(why="Name two different suspects.")
    odds = odds_between(channel, places)
    (_, if_so), (_, if_not) = put_right(channel, serviced.kind, serviced.resource)
    nats = []
    for start in range(0, len(possible), AT_ONCE):
        some = possible.of(slice(start, start + AT_ONCE))
        fixed, moved = _seen(if_so, some), _seen(if_not, some)
        nats += [_nats(fixed, moved, job, places[1]) for job in range(len(some))]
    return [
        Trial("after_service", row, None, one, settles(one, odds), serviced)
        for row, one in enumerate(nats)
    ]


def _seen(channel: ChannelWatch, possible: Jobs) -> Outlook:
    ready = copy_of(channel)
    ready.meet(resources_in(possible, channel=channel))
    begin(ready, np.full(MOST_INVOLVED, -1))
    return seen_from(ready, readings_for(ready, possible), least_weight=0.0)


def _nats(fixed: Outlook, moved: Outlook, job: int, other: int) -> float:
    """Half the squared distance between what the job reads with nothing wrong any more, and with
    the other's move, in the mean of their covariances."""
    mine = fixed.readings_of(job)
    held = np.flatnonzero(moved.who == other)
    weight = moved.weight[held] / moved.weight[held].sum()
    effect = moved.effect[held, mine]
    expected = np.einsum("hmd,hd->hm", effect, moved.move[held])
    mean = weight @ expected
    off = expected - mean
    spread = np.einsum("h,hmd,hde,hke->mk", weight, effect, moved.move_cov[held], effect)
    spread += np.einsum("h,hm,hk->mk", weight, off, off)
    cov = (fixed.cov[mine, mine] + moved.cov[mine, mine] + spread) / 2
    cov += np.diag((fixed.noise_var[mine] + moved.noise_var[mine]) / 2)
    apart = moved.mean[mine] + mean - fixed.mean[mine]
    return float(apart @ np.linalg.solve(cov, apart) / 2)
