"""How well a resource is known yet: how soon a move of it would be found, if it came now."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from qc.actor import Actor
from qc.errors import BadInput
from qc.lookups.flags import flags_for
from qc.lookups.kept_drift import IN_WATCH
from qc.lookups.own_jobs import BEARS_ON, as_jobs, own_rounds
from qc.models import DriftChannel
from qc.numerics.drift import Watch
from qc.numerics.drift.baseline import KNOCK_MM, Baseline, baseline

WITHIN_JOBS = 20
# The jobs to come are taken to be like so many of its last ones.
LIKE_JOBS = 40
SCATTER_RATIO = 1.6
WHY_BLIND = {
    "fixture": "without the clocking a tilt cannot be turned to the fixture",
    "gauge": "the same gauge reads as-found and achieved, so what it reads wrong cancels; "
    "check it against a standard",
}
NOT_READ = "their readings do not show it apart from the rest"


@dataclass(frozen=True)
class Known:
    """said: a code and facts of qc/sentences.py. baseline: in jobs, see numerics; None while an
    open flag holds the resource among its suspects."""

    channel: DriftChannel
    said: Mapping[str, Any]
    baseline: Baseline | None


def how_known(kind: str, key: int, watch: Watch, *, by: Actor, whose: str = "its") -> list[Known]:
    """One for each channel that it bears on and has a job on; none for what was never used."""
    like = as_jobs(own_rounds(kind, key), count=LIKE_JOBS)
    suspected = suspected_on(kind, key, by)
    found = []
    for channel in BEARS_ON[kind]:
        if channel in suspected:
            found.append(Known(channel, {"code": "waits", "facts": {}}, None))
            continue
        is_scatter = channel == DriftChannel.SPREAD
        try:
            one = baseline(
                watch.channels[channel],
                kind=IN_WATCH.get(kind, kind),
                resource=key,
                like=like,
                budget=watch.budget,
                knock=2 * math.log(SCATTER_RATIO) if is_scatter else KNOCK_MM,
                within=WITHIN_JOBS,
            )
        except BadInput:
            # No job of it on this channel yet.
            continue
        found.append(Known(channel, _said(one, kind, channel, whose), one))
    return found


def suspected_on(kind: str, key: int, by: Actor) -> set[str]:
    """The channels on which an open flag that this reader may know of holds it among its suspects:
    who may not know of a flag on a person learns nothing of it from a gauge's page either."""
    flags = flags_for(by, is_open=True).values_list("channel", "suspects")
    return {
        channel
        for channel, suspects in flags
        if any((one["kind"], one["key"]) == (kind, key) for one in suspects)
    }


def _said(one: Baseline, kind: str, channel: DriftChannel, whose: str) -> dict[str, Any]:
    facts: dict[str, Any]
    if channel == DriftChannel.SPREAD:
        before, facts = "scatter_", {"ratio": SCATTER_RATIO}
    else:
        in_height = " in height" if kind == "person" else ""
        how = " side to side" if channel == DriftChannel.TILT else in_height
        before, facts = "", {"move_mm": KNOCK_MM, "how": how}
    if one.more_jobs is None:
        why = WHY_BLIND.get(kind, NOT_READ) if channel != DriftChannel.SPREAD else NOT_READ
        return {"code": f"{before}blind", "facts": {**facts, "why": why}}
    facts["whose"] = whose
    if one.is_thin:
        told = {"more_jobs": one.more_jobs, "within": one.within}
        return {"code": f"{before}thin", "facts": facts | told}
    return {"code": f"{before}known", "facts": facts | {"finds_in": one.finds_in}}
