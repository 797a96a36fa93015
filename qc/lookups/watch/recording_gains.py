"""What recording more would buy: how much sooner a moved fixture would be found."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta
from math import ceil
from typing import Any

from qc.errors import BadInput
from qc.lookups.record.channels import measured_rounds
from qc.lookups.watch.how_known import LIKE_JOBS
from qc.lookups.watch.own_jobs import as_jobs, own_rounds
from qc.numerics.drift import Watch
from qc.numerics.drift.baseline import KNOCK_MM, Recording, baseline, recording

RECENT_JOBS = 100
# Fewer say nothing of how a shop records.
FEWEST_JOBS_TOLD = 5
# What saves less than one job in twenty is not worth a sentence.
LEAST_SAVED = 0.05
A_DAY = timedelta(days=1)
NOT_DONE = {
    "clocking": "The clocking is not recorded",
    "four_positions": "The gap is read at fewer than four positions",
    "as_found": "The as-found gap is not read",
}


@dataclass(frozen=True)
class Gain:
    """said: a code and facts of qc/sentences.py."""

    told: Recording
    said: Mapping[str, Any]


@dataclass(frozen=True)
class _Usual:
    """The fixture used most: its jobs until a knock is found, and the time from one to the next."""

    finds_in: int
    between: timedelta


def recording_gains(watch: Watch) -> list[Gain]:
    """Of each thing that the shop's newest jobs lack, the dearest first; none where nothing does or
    it would not matter."""
    recent = measured_rounds().filter(round__fixture__isnull=False)
    like = as_jobs(recent, count=RECENT_JOBS)
    if len(like) < FEWEST_JOBS_TOLD:
        return []
    try:
        found = recording(watch.channels["tilt"], like=like)
    except BadInput:
        # No achieved tilt was read yet.
        return []
    missed = [one for one in found if one.recorded < 1 and one.jobs_saved >= LEAST_SAVED]
    if not missed:
        return []
    usual = _usual(watch, Counter(like.fixture.tolist()))
    missed.sort(key=lambda one: -one.jobs_saved)
    told = [(one, _said(one, usual, jobs=len(like))) for one in missed]
    return [Gain(one, said) for one, said in told if said is not None]


def _usual(watch: Watch, used: Counter[int]) -> _Usual | None:
    """None where a knock on it is not found at all. One whose first jobs are still to be learnt
    from is passed over."""
    tilt = watch.channels["tilt"]
    known = [fixture for fixture, _ in used.most_common() if ("fixture", fixture) in tilt.keys]
    if not known:
        return None
    fixture = known[0]
    own = own_rounds("fixture", fixture)
    found = baseline(
        tilt,
        kind="fixture",
        resource=fixture,
        like=as_jobs(own, count=LIKE_JOBS),
        budget=watch.budget,
    ).settled_finds_in
    times = list(own.reverse().values_list("measured_at", flat=True)[:LIKE_JOBS])
    if found is None or len(times) < 2:
        return None
    return _Usual(found, (times[0] - times[-1]) / (len(times) - 1))


def _said(one: Recording, usual: _Usual | None, *, jobs: int) -> dict[str, Any] | None:
    """None where it saves less than a whole job."""
    facts: dict[str, Any] = {
        "what": NOT_DONE[one.what],
        "missing": 100 * (1 - one.recorded),
        "jobs": jobs,
        "move_mm": KNOCK_MM,
    }
    if one.nats_now <= 0:
        return {"code": "found_at_all", "facts": facts}
    if usual is None:
        return {"code": "sooner_by_share", "facts": facts | {"fewer": 100 * one.jobs_saved}}
    jobs_with = ceil(usual.finds_in * (1 - one.jobs_saved))
    if jobs_with == usual.finds_in:
        return None
    days = max(1, round((usual.finds_in - jobs_with) * usual.between / A_DAY))
    return {
        "code": "sooner",
        "facts": facts
        | {
            "jobs_with": jobs_with,
            "jobs_now": usual.finds_in,
            "days": f"{days} day{'' if days == 1 else 's'}",
        },
    }
