"""How far the newest rounds of several jobs have come: what says which step of each is next."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from django.db.models import Prefetch

from qc.lookups.record.depth import touch_offs_mm
from qc.lookups.record.job_lists import JobRow
from qc.lookups.record.jobs import dial_targets_of
from qc.lookups.record.progress import passes_left
from qc.models import Kind, Pass, Reading, ReadingSet, Round, SkippedStep, State


@dataclass(frozen=True, eq=False)
class RoundSoFar:
    """See RoundRecord, which has all of it and much besides."""

    round: Round
    plan_is_stale: bool
    is_indicated: bool
    touch_off_mm: float | None
    dial_targets_mm: Sequence[float]
    passes: Sequence[Pass]
    skipped: Sequence[SkippedStep]


def rounds_so_far(jobs: Collection[int]) -> dict[int, RoundSoFar]:
    """The newest round of each of these jobs."""
    standing = Prefetch(
        "as_found_set__readings", Reading.objects.filter(voided_at=None).order_by("pk")
    )
    rounds = Round.objects.filter(job__in=jobs).select_related("as_found_set")
    told = rounds.order_by("number", "pk").prefetch_related(standing, "passes", "skipped")
    newest = {one.job_id: one for one in told}
    touched = touch_offs_mm(newest.values())
    turned = ReadingSet.objects.filter(round__in=newest.values(), kind=Kind.INDICATED_TIGHT)
    indicated = set(turned.values_list("round_id", flat=True))
    return {
        job: RoundSoFar(
            round=one,
            plan_is_stale=_is_stale(one),
            is_indicated=one.pk in indicated,
            touch_off_mm=touched.get(one.pk),
            dial_targets_mm=dial_targets_of(one, touched.get(one.pk)),
            passes=list(one.passes.all()),
            skipped=list(one.skipped.all()),
        )
        for job, one in newest.items()
    }


def being_cut(rows: Iterable[JobRow]) -> Collection[int]:
    """The numbers of those of these jobs that have begun their passes and have some left."""
    begun = [one.number for one in rows if one.state == State.CUT]
    return {job for job, one in rounds_so_far(begun).items() if passes_left(one)}


def _is_stale(round_: Round) -> bool:
    if round_.plan is None or round_.as_found_set is None:
        return False
    readings = round_.as_found_set.readings.all()
    return round_.as_found_set.fingerprint_with(readings) != round_.plan_basis
