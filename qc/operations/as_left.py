"""How a thing was left by its service: asked about where it looks like a slip, or keeps a flag."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from qc.errors import LeftFarOver, LeftOverLimit, LeftWorse, ReasonNeeded
from qc.lookups.flags.suspected import concerning
from qc.models import Fixture, Resource
from qc.numerics.doubt import AS_LEFT_RATIO
from qc.operations.policy import ensure_policy


def looks_right(
    subject: Resource, *, found_mm: Decimal | None, left_mm: Decimal | None, at: datetime
) -> None:
    """Work on a thing hardly leaves it worse than it was, nor a fixture far over its limit."""
    if left_mm is None:
        return
    limit = ensure_policy(at=at).indicating_limit_mm
    if isinstance(subject, Fixture) and abs(left_mm) > limit * AS_LEFT_RATIO:
        raise LeftFarOver(left_mm=left_mm, limit_mm=limit)
    if found_mm is not None and abs(left_mm) > abs(found_mm):
        raise LeftWorse(left_mm=left_mm, found_mm=found_mm)


def left_true(
    fixture: Fixture, left_mm: Decimal, *, confirm: bool, note: str, at: datetime
) -> None:
    """A fixture left worse than the shop allows must not lose its flag unseen."""
    limit = ensure_policy(at=at).indicating_limit_mm
    if abs(left_mm) <= limit or not concerning(("fixture", fixture.pk), by_then=at):
        return
    if not confirm:
        raise LeftOverLimit(left_mm=left_mm, limit_mm=limit)
    if not note.strip():
        raise ReasonNeeded(what="Clearing the flag of a fixture over its limit", fields=("note",))
