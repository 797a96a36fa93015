"""How much metal a cylinder has given and how much it can still give."""

from __future__ import annotations

from decimal import Decimal

from django.db.models import Sum

from qc.models import Cylinder, JobResult, Round

ZERO = Decimal(0)


def removed_mm(cylinder: Cylinder, *, before: Round | None = None) -> Decimal:
    """Taken off the base in all: before this record, and in every round measured (before one)."""
    results = JobResult.objects.filter(is_current=True, round__job__cylinder=cylinder)
    if before is not None:
        results = results.filter(round__lt=before.pk)
    cut = results.aggregate(total=Sum("depth_cut_mm"))["total"]
    return cylinder.earlier_cut_mm + (cut or ZERO)


def flange_before_mm(round_: Round) -> Decimal | None:
    """Flange height as this round began: as measured, or the family's less what was removed."""
    if round_.flange_mm is not None:
        return round_.flange_mm
    cylinder = round_.job.cylinder
    if cylinder.family.flange_mm is None:
        return None
    return cylinder.family.flange_mm - removed_mm(cylinder, before=round_)


def room_mm(round_: Round) -> Decimal | None:
    """What this round may take off before the flange is at its least; None where unknown."""
    flange, least = flange_before_mm(round_), round_.job.cylinder.family.flange_min_mm
    if flange is None or least is None:
        return None
    return flange - least
