"""How well a resource is known yet: how soon a move of it would be found, if it came now."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from qc.errors import BadInput
from qc.lookups.watch.done import IN_WATCH
from qc.lookups.watch.own_jobs import (
    BEARS_ON,
    as_jobs,
    own_rounds,
)
from qc.models import DriftChannel
from qc.numerics.drift import Jobs, Watch
from qc.numerics.drift.baseline import KNOCK_MM, Baseline, baseline

WITHIN_JOBS = 20
# The jobs to come are taken to be like so many of its last ones.
LIKE_JOBS = 40
SCATTER_RATIO = 1.6
NO_CLOCKING = "without the clocking a tilt cannot be turned to the fixture"
ONE_GAUGE = (
    "the same gauge reads as-found and achieved, so what it reads wrong cancels; check it against "
    "a standard"
)
NOT_READ = "their readings do not show it apart from the rest"


@dataclass(frozen=True)
class Known:
    """said: a code and facts of qc/sentences.py. baseline: in jobs, see numerics; None while an
    open flag holds the resource among its suspects."""

    channel: DriftChannel
    said: Mapping[str, Any]
    baseline: Baseline | None


def how_known(
    kind: str, key: int, watch: Watch, *, suspected: Collection[str] = (), whose: str = "its"
) -> list[Known]:
    """One for each channel that it bears on and has a job on; none for what was never used.

    suspected: the channels on which an open flag holds it among its suspects.
    """
    like = as_jobs(own_rounds(kind, key), count=LIKE_JOBS)
    found = []
    for channel in BEARS_ON[kind]:
        if channel in suspected:
            what = "this technique" if kind == "person" else "it"
            found.append(Known(channel, {"code": "waits", "facts": {"what": what}}, None))
            continue
        is_scatter = channel == DriftChannel.SPREAD
        told = IN_WATCH.get(kind, kind)
        try:
            one = baseline(
                watch.channels[channel].about(told, key),
                kind=told,
                resource=key,
                like=like,
                budget=watch.budget,
                knock=2 * math.log(SCATTER_RATIO) if is_scatter else KNOCK_MM,
                within=WITHIN_JOBS,
            )
        except BadInput:
            # No job of it on this channel yet.
            continue
        why = _why_blind(channel, kind, like)
        found.append(Known(channel, _said(one, kind, channel, whose=whose, why=why), one))
    return found


def _why_blind(channel: DriftChannel, kind: str, like: Jobs) -> str:
    """Why jobs like these could not show a move of it, if they cannot."""
    if kind == "fixture" and np.isnan(like.clocking_deg).all():
        return NO_CLOCKING
    is_one_gauge = (like.gauge_found == like.gauge_achieved).all()
    if channel == DriftChannel.HEIGHT and kind == "gauge" and is_one_gauge:
        return ONE_GAUGE
    return NOT_READ


def _said(
    one: Baseline, kind: str, channel: DriftChannel, *, whose: str, why: str
) -> dict[str, Any]:
    facts: dict[str, Any]
    if channel == DriftChannel.SPREAD:
        before, facts = "scatter_", {"ratio": SCATTER_RATIO}
    else:
        in_height = " in height" if kind == "person" else ""
        how = " side to side" if channel == DriftChannel.TILT else in_height
        before, facts = "", {"move_mm": KNOCK_MM, "how": how}
    if one.more_jobs is None:
        return {"code": f"{before}blind", "facts": {**facts, "why": why}}
    facts["whose"] = whose
    if one.is_thin:
        at_best = ""
        if one.within > WITHIN_JOBS:
            at_best = f"; even when well known it takes about {one.settled_finds_in}"
        told = {"more_jobs": one.more_jobs, "within": one.within, "at_best": at_best}
        return {"code": f"{before}thin", "facts": facts | told}
    return {"code": f"{before}known", "facts": facts | {"finds_in": one.finds_in}}
