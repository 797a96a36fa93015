"""What the watch believes of a resource that no open flag is about: how it leans, since when."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from qc.lookups.watch.done import RETIRABLE, done_after, in_watch
from qc.lookups.watch.own_jobs import BEARS_ON, own_rounds
from qc.models import DriftChannel, ServiceEvent
from qc.numerics.drift import Watch
from qc.numerics.drift.believed import Belief, believed


@dataclass(frozen=True)
class Believed:
    """said: a code and facts of qc/sentences.py. since: its last service, or its first job."""

    channel: DriftChannel
    belief: Belief
    said: Mapping[str, Any]
    since: datetime | None

    @property
    def is_length(self) -> bool:
        return self.channel != DriftChannel.SPREAD

    @property
    def off_mm(self) -> float | None:
        return self.belief.size if self.is_length else None

    @property
    def u_mm(self) -> float | None:
        return self.belief.u if self.is_length else None

    @property
    def spread_ratio(self) -> float | None:
        """How many times the shop's standard deviation."""
        return None if self.is_length else math.exp(self.belief.size / 2)


@dataclass(frozen=True)
class Called:
    """How a sentence speaks of whose it is: its, your or Tomo's; of what pieces."""

    whose: str = "its"
    pieces: str = "pieces read with it"


def beliefs(
    kind: str,
    key: int,
    watch: Watch,
    *,
    suspected: Collection[str] = (),
    called: Called | None = None,
) -> list[Believed]:
    """One for each channel that it bears on and has a job on since it was last put right.

    suspected: the channels on which an open flag holds it among its suspects; none there, for then
    there are two stories.
    """
    since = stands_since(kind, key)
    called = called or Called()
    told = in_watch(kind, key)
    found = []
    for channel in BEARS_ON[kind]:
        of = watch.channels[channel].about(*told)
        if channel in suspected or told not in of.keys or not of.state.own[of.keys.index(told)]:
            continue
        belief = believed(of, kind=told[0], resource=key)
        found.append(Believed(channel, belief, _said(belief, kind, channel, called), since))
    return found


def stands_since(kind: str, key: int) -> datetime | None:
    """When it was last put right, else its first job; None where it has none."""
    serviced = None
    if kind in RETIRABLE:
        services = ServiceEvent.objects.filter(**{kind: key}).order_by("at")
        serviced = services.values_list("at", flat=True).last()
    # How flags were closed says it too; only what came after its last service can be later.
    done = [
        one.at
        for one in done_after(serviced)
        if (one.kind, one.key) == in_watch(kind, key) and one.what in ("serviced", "renewed")
    ]
    if done:
        return max(done)
    return serviced or own_rounds(kind, key).values_list("measured_at", flat=True).first()


# By kind and channel: the code of a bias that is told from none, and of one that is not.
CODES = {
    ("fixture", DriftChannel.TILT): ("tilts", "tilts_nowhere"),
    ("person", DriftChannel.TILT): ("leans", "leans_nowhere"),
    ("person", DriftChannel.HEIGHT): ("heights_off", "heights_true"),
    ("gauge", DriftChannel.HEIGHT): ("reads_off", "reads_true"),
    ("lathe", DriftChannel.HEIGHT): ("gaps_off", "gaps_true"),
    ("edge", DriftChannel.HEIGHT): ("gaps_off", "gaps_true"),
}


def _said(belief: Belief, kind: str, channel: DriftChannel, called: Called) -> dict[str, Any]:
    if channel == DriftChannel.SPREAD:
        return _of_spread(belief, called)
    told, not_told = CODES[kind, channel]
    sides = ("high", "low") if kind == "gauge" else ("wider", "tighter")
    facts: dict[str, Any] = {"u_mm": belief.u}
    if kind == "person":
        facts["whose"] = called.whose[:1].upper() + called.whose[1:]
    if not belief.is_told:
        return {"code": not_told, "facts": facts}
    facts["off_mm"] = abs(belief.size)
    if belief.direction_deg is not None:
        facts["toward_deg"] = round(belief.direction_deg) % 360
    else:
        facts["side"] = sides[0] if belief.size > 0 else sides[1]
    return {"code": told, "facts": facts}


def _of_spread(belief: Belief, called: Called) -> dict[str, Any]:
    """In how many times the shop's standard deviation: the size is of a log variance."""
    facts: dict[str, Any] = {"pieces": called.pieces}
    if not belief.is_told:
        return {"code": "crushed_alike", "facts": facts}
    facts |= {
        "more": "more" if belief.size > 0 else "less",
        "ratio": math.exp(belief.size / 2),
    }
    return {"code": "crushed_apart", "facts": facts}
