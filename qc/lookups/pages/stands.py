"""How one resource, or one person's technique, stands by the watch: what its page shows of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from qc.actor import Actor
from qc.lookups.flags.held_against import HeldAgainst, held_against
from qc.lookups.flags.unexplained import Unexplained, unexplained
from qc.lookups.pages.resource_lanes import ResourceLanes, resource_lanes
from qc.lookups.watch.beliefs import (
    Believed,
    Called,
    beliefs,
)
from qc.lookups.watch.how_known import Known, how_known
from qc.lookups.watch.watch_now import watch_now
from qc.lookups.watch.what_pays import WhatPays, what_pays
from qc.models import DriftChannel


@dataclass(frozen=True)
class Stands:
    """held: the flags about it and those that suspect it. known, believed: one for each channel it
    bears on, see there; pays: None for a person, for what the watch does not know, and where it
    would leave out a shift that is not explained."""

    held: HeldAgainst
    known: Sequence[Known] = ()
    believed: Sequence[Believed] = ()
    pays: WhatPays | None = None
    unexplained: Unexplained | None = None

    @property
    def tells_doubt(self) -> bool:
        """Whether anything believed is told with a give or take."""
        return any("u_mm" in one.said["facts"] for one in self.believed)

    @property
    def is_thin(self) -> bool:
        """On the channel that shows it best."""
        first = self.known[0].baseline if self.known else None
        return first is not None and first.is_thin


def stands(kind: str, key: int, by: Actor, *, called: Called | None = None) -> Stands:
    """As this reader may know of it. called: how sentences speak of whose it is."""
    held = held_against(kind, key, by)
    watch = watch_now()
    if watch is None:
        return Stands(held)
    called = called or Called()
    # A gauge or a person may scatter more without any job missing for it.
    is_suspected = bool(held.channels - {DriftChannel.SPREAD})
    shift = None if kind == "person" else unexplained(kind, key, by)
    return Stands(
        held=held,
        known=how_known(kind, key, watch, suspected=held.channels, whose=called.whose),
        believed=beliefs(kind, key, watch, suspected=held.channels, called=called),
        pays=None if shift else what_pays(kind, key, watch, is_flagged=is_suspected),
        unexplained=shift,
    )


def lanes_of(kind: str, key: int, by: Actor) -> ResourceLanes:
    """Its jobs through time, with where they are expected."""
    held = held_against(kind, key, by)
    watch = watch_now()
    found = () if watch is None else beliefs(kind, key, watch, suspected=held.channels)
    return resource_lanes(kind, key, flags=held.flags, believed=found)
