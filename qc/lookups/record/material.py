"""How much metal a cylinder has given and how much it can still give."""

from __future__ import annotations

from collections.abc import Collection
from decimal import Decimal

from django.db.models import Sum

from qc.lookups.record.depth import depth_cut
from qc.models import Cylinder, JobResult, Pass, Round
from qc.units import MM_PLACES

ZERO = Decimal(0)


def removed_mm(cylinder: Cylinder, *, before: Round | None = None) -> Decimal:
    """Taken off the base in all, before this record and in every round (before one): as measured,
    or by the dial where the cut is not measured yet."""
    results = JobResult.objects.filter(is_current=True, round__job__cylinder=cylinder)
    if before is not None:
        results = results.filter(round__lt=before.pk)
    cut = results.aggregate(total=Sum("depth_cut_mm"))["total"]
    by_the_dial = by_the_dial_mm([cylinder.pk], before=before).get(cylinder.pk, ZERO)
    return cylinder.earlier_cut_mm + (cut or ZERO) + by_the_dial


def by_the_dial_mm(
    cylinders: Collection[int], *, before: Round | None = None
) -> dict[int, Decimal]:
    """What the dial took off in rounds that have no result yet; cylinders by their keys."""
    cut = Pass.objects.filter(voided_at=None, is_spring=False)
    judged = JobResult.objects.filter(is_current=True)
    rounds = Round.objects.filter(job__cylinder__in=cylinders, pk__in=cut.values("round")).exclude(
        pk__in=judged.values("round")
    )
    if before is not None:
        rounds = rounds.filter(pk__lt=before.pk)
    total: dict[int, Decimal] = {}
    for one in rounds.select_related("job"):
        depth = depth_cut(one)
        if depth.mm is not None and not depth.is_planned:
            key = one.job.cylinder_id
            total[key] = total.get(key, ZERO) + Decimal(depth.mm).quantize(MM_PLACES)
    return total


def flange_before_mm(round_: Round) -> Decimal | None:
    """Flange height as this round began: the newest measured, or the family's, less cuts since."""
    cylinder = round_.job.cylinder
    measured = (
        Round.objects.filter(job__cylinder=cylinder, pk__lte=round_.pk, flange_mm__isnull=False)
        .order_by("-pk")
        .first()
    )
    if measured is not None and measured.flange_mm is not None:
        since = removed_mm(cylinder, before=round_) - removed_mm(cylinder, before=measured)
        return measured.flange_mm - since
    if cylinder.family.flange_mm is None:
        return None
    return cylinder.family.flange_mm - removed_mm(cylinder, before=round_)


def room_mm(round_: Round) -> Decimal | None:
    """What this round may take off before the flange is at its least; None where unknown."""
    flange, least = flange_before_mm(round_), round_.job.cylinder.family.flange_min_mm
    if flange is None or least is None:
        return None
    return flange - least
