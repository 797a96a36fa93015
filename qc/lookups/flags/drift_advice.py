"""What to do about a flag: what running on costs, and what putting each suspect right takes."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from qc.lookups.flags.lines import FlagLine, SuspectLine
from qc.lookups.flags.visible import names_first
from qc.lookups.shop.policy import shop_policy
from qc.lookups.watch.next_job import miss_if_it_moved
from qc.lookups.watch.what_pays import (
    WhatPays,
    fixture_advice,
    what_pays,
)
from qc.models import DriftChannel, Flag, Recommended
from qc.numerics.drift import Watch


def recommended(flag: Flag, watch: Watch) -> tuple[Recommended, dict[str, Any]]:
    """What to do about a flag, and the figures that rests on."""
    first = flag.suspects[0]
    figures: dict[str, Any] = {
        "channel": flag.channel,
        "size": flag.size,
        "suspects": flag.suspects,
        "statistic": flag.statistic,
        "limit": flag.limit,
    }
    if first["kind"] != "fixture" or not names_first(flag.suspects):
        return Recommended.CHECK_FIRST, figures
    advice = fixture_advice(first["key"], watch, is_flagged=True)
    figures |= {**asdict(advice), "minutes_to_reindicate": shop_policy().reindicating_minutes}
    return Recommended(advice.what), figures


def advice_on(line: FlagLine, watch: Watch) -> WhatPays | None:
    """For a flag that names one thing, not a person; None for any other, and on the spread channel:
    repeats may scatter more without any job missing for it."""
    if line.named is None or line.named.key is None or line.channel == DriftChannel.SPREAD:
        return None
    return what_pays(line.named.kind, line.named.key, watch, is_flagged=True)


@dataclass(frozen=True)
class Weighed:
    """One suspect of a set. pays: what putting it right takes and when that pays. if_it: P(miss) of
    the next job with it, should it be what moved. None where that is not told."""

    suspect: SuspectLine
    pays: WhatPays | None = None
    if_it: float | None = None


def each_weighed(line: FlagLine, watch: Watch | None) -> list[Weighed]:
    """Every suspect; nothing is told beside a person who is not named to this reader, nor of any
    where one is named or there is no watch, or on spread. Nor what it takes to put right what was
    put right already, to see what the next jobs read."""
    if watch is None or line.named is not None or line.channel == DriftChannel.SPREAD:
        return [Weighed(one) for one in line.suspects]
    policy = shop_policy()
    right = {(one.suspect.kind, one.suspect.key) for one in line.tried}
    return [
        Weighed(
            one,
            None
            if (one.kind, one.key) in right
            else what_pays(one.kind, one.key, watch, is_flagged=True),
            miss_if_it_moved(one.kind, one.key, line.channel, watch, policy),
        )
        if one.key is not None
        else Weighed(one)
        for one in line.suspects
    ]
