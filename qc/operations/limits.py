"""The target and tolerance a job is held to: checked, asked about where they look like a slip, and
put right before the first cut. After that they stay: a cut is judged by what was asked of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from qc.actor import Actor
from qc.errors import (
    AlreadyCut,
    BadInput,
    DoubtfulLimits,
    NegativeLength,
    ReasonNeeded,
    TargetUnderFloor,
)
from qc.lookups.record.progress import is_uncut
from qc.models import EngineFamily, Job, Role, Round
from qc.numerics.doubt import TARGET_RATIO, TOLERANCE_RATIO, far_from_usual
from qc.operations import journal
from qc.operations.steps import OPEN_STATES, take_turn
from qc.units import Length

NAMED = {
    "target": ("target", TARGET_RATIO),
    "tol_minus": ("tolerance below", TOLERANCE_RATIO),
    "tol_plus": ("tolerance above", TOLERANCE_RATIO),
}


@dataclass(frozen=True)
class Asked:
    """What somebody asks for; None leaves it as it is."""

    target: Length | None = None
    tol_minus: Length | None = None
    tol_plus: Length | None = None


def sound_limits(
    asked: Asked, *, usual: EngineFamily | Job, family: EngineFamily, floor: Decimal, confirm: bool
) -> dict[str, Decimal]:
    """Target and tolerances, `usual`'s where nothing is asked, once they are such as can be.

    Raises DoubtfulLimits, unless confirmed, where what is asked is far from the family's own.
    """
    limits = {}
    for field in NAMED:
        length: Length | None = getattr(asked, field)
        limits[f"{field}_mm"] = getattr(usual, f"{field}_mm") if length is None else length.mm
    if limits["target_mm"] < 0:
        raise NegativeLength(what="The target", got_mm=asked.target, fields=("target",))
    if limits["target_mm"] < floor:
        raise TargetUnderFloor(target_mm=limits["target_mm"], floor_mm=floor)
    if min(limits["tol_minus_mm"], limits["tol_plus_mm"]) <= 0:
        raise BadInput(
            why="A tolerance is above zero on both sides.", fields=("tol_minus", "tol_plus")
        )
    if not confirm:
        _near_the_familys(asked, limits, family, usual)
    return limits


def _near_the_familys(
    asked: Asked, limits: Mapping[str, Decimal], family: EngineFamily, usual: EngineFamily | Job
) -> None:
    """All that is far off is named at once, so that one confirmation takes nothing unseen. What
    stays as it is was confirmed before."""
    far = [
        (field, f"{name} {getattr(asked, field)}")
        for field, (name, ratio) in NAMED.items()
        if limits[f"{field}_mm"] != getattr(usual, f"{field}_mm")
        and far_from_usual(
            float(limits[f"{field}_mm"]),
            usual_mm=float(getattr(family, f"{field}_mm")),
            ratio=ratio,
        )
    ]
    if far:
        raise DoubtfulLimits(
            got=", ".join(words for _, words in far),
            target_mm=family.target_mm,
            tol_plus_mm=family.tol_plus_mm,
            tol_minus_mm=family.tol_minus_mm,
            fields=tuple(field for field, _ in far),
        )


@transaction.atomic
def correct_limits(
    *,
    job: Job,
    why: str,
    by: Actor,
    at: datetime,
    target: Length | None = None,
    tol_minus: Length | None = None,
    tol_plus: Length | None = None,
    expected_version: int | None = None,
    confirm: bool = False,
) -> Job:
    """Put target or tolerance of a job right before its first cut; the journal keeps both values.

    A plan worked out for another target has to be worked out again.
    """
    by.must_be(Role.OPERATOR, to="correct a job's target")
    if not why.strip():
        raise ReasonNeeded(what="Correcting the target or the tolerance")
    round_ = turn_before_the_cut(
        job, expected_version=expected_version, what="its target and tolerance stay what they were"
    )
    job.refresh_from_db()
    before = {f"{name}_mm": getattr(job, f"{name}_mm") for name in NAMED}
    limits = sound_limits(
        Asked(target, tol_minus, tol_plus),
        usual=job,
        family=job.cylinder.family,
        floor=job.floor_mm,
        confirm=confirm,
    )
    if limits == before:
        raise BadInput(why="That is what the job is held to already.", fields=("target",))
    Job.objects.filter(pk=job.pk).update(**limits)
    if limits["target_mm"] != before["target_mm"]:
        Round.objects.filter(pk=round_.pk).update(plan_basis="")
    journal.note(
        by,
        "job.limits_corrected",
        subject=job,
        job=job,
        at=at,
        before=before,
        after=limits,
        why=why.strip(),
    )
    job.refresh_from_db()
    return job


def turn_before_the_cut(job: Job, *, expected_version: int | None, what: str) -> Round:
    """Claim a job nothing of which is cut; `what` follows from a cut, for the refusal."""
    round_ = take_turn(job, needed=OPEN_STATES, expected_version=expected_version)
    if not is_uncut(job.state, round_):
        raise AlreadyCut(job=job.pk, what=what)
    return round_
