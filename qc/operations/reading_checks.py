"""What a set of readings must satisfy before any of it is written."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from qc.actor import Actor
from qc.errors import (
    BadInput,
    DoubtfulDial,
    DoubtfulUnit,
    GapWiderThanSolder,
    GaugeOverdue,
    LengthTooLarge,
    MissingPosition,
    NegativeLength,
    ReasonNeeded,
    StepMissing,
    TooFewReadings,
)
from qc.lookups.record.depth import depth_cut
from qc.models import Gauge, Job, Kind, ReadingSet, Round, ShopPolicy, Step
from qc.numerics.checks import LARGEST_GAP_MM
from qc.numerics.doubt import dial_odd_one_out, odd_one_out, whole_set_is_odd
from qc.operations.outcome import predicted_height_mm
from qc.operations.policy import ensure_policy
from qc.operations.reading_rows import ReadingIn
from qc.operations.resources import in_use
from qc.operations.steps import note_skip
from qc.units import Length

USUAL_POSITIONS = (Decimal(0), Decimal(90), Decimal(180), Decimal(270))


def taken_again(round_: Round, kind: Kind, why_again: str) -> None:
    standing = round_.as_found_set_id if kind == Kind.AS_FOUND else round_.achieved_set_id
    if standing is not None and not why_again.strip():
        raise ReasonNeeded(what=f"Taking {kind.label} again", fields=("why_again",))


def cut_or_reason(job: Job, round_: Round, why: str, *, by: Actor, at: datetime) -> None:
    cut = round_.passes.filter(voided_at=None, is_spring=False).exists()
    skipped = round_.skipped.filter(step=Step.PASSES).exists()
    if cut or skipped:
        return
    if not why.strip():
        raise StepMissing(missing="A cut in this round", fields=("why_no_cut",))
    note_skip(round_, Step.PASSES, why=why, by=by, at=at)


def calibrated_or_marked(gauge: Gauge, *, at: datetime, policy: ShopPolicy) -> bool:
    """True when the gauge is overdue, by the shop's own date, and its policy only marks that."""
    in_use(gauge)
    due, today = gauge.calibration_due, at.astimezone(ZoneInfo(policy.time_zone)).date()
    if due is None or today <= due:
        return False
    if policy.overdue_gauge_is_refused:
        raise GaugeOverdue(gauge=gauge.name, due=due)
    return True


def still_a_depth(round_: Round) -> None:
    """A touch-off put right must not come to lie beyond the passes counted from it."""
    depth = depth_cut(round_)
    if depth.mm is not None and depth.mm < 0:
        raise BadInput(
            why="That touch-off lies beyond the last pass: no metal would have come off. Put the "
            "pass right first, or type the touch-off again.",
            fields=("replacement",),
        )


def enough_positions(readings: Sequence[ReadingIn], why_fewer: str) -> None:
    if not readings:
        raise TooFewReadings(needed=1, got=0, fields=("readings",))
    there = {one.position_deg % 360 for one in readings}
    if len(there) < len(USUAL_POSITIONS) and not why_fewer.strip():
        missing = [f"{one}" for one in USUAL_POSITIONS if one not in there]
        raise MissingPosition(
            missing=" and ".join(missing), fields=(*(f"at_{one}" for one in missing), "why_fewer")
        )


def positive(readings: Sequence[ReadingIn]) -> None:
    for one in readings:
        if one.length.mm <= 0:
            raise NegativeLength(what="A gap", got_mm=one.length, fields=(one.field,))
        if one.length.mm > LARGEST_GAP_MM:
            raise LengthTooLarge(
                what="A gap", got_mm=one.length, limit_mm=LARGEST_GAP_MM, fields=(one.field,)
            )


def crushed(readings: Sequence[ReadingIn], set_: ReadingSet) -> None:
    """After the units are sure: a slip of unit must not be answered with advice on solder."""
    for one in readings:
        if set_.solder_mm is not None and one.length.mm >= set_.solder_mm:
            raise GapWiderThanSolder(
                gap_mm=one.length.mm, solder_mm=set_.solder_mm, fields=(one.field,)
            )


def units_look_right(
    readings: Sequence[ReadingIn], expected_mm: float | None, predicted_mm: float | None
) -> None:
    values = [float(one.length.mm) for one in readings]
    odd = odd_one_out(values, expected_mm=expected_mm)
    if odd is None and whole_set_is_odd(sum(values) / len(values), predicted_mm=predicted_mm):
        odd, expected_mm = 0, predicted_mm
    if odd is None:
        return
    usual = expected_mm if expected_mm is not None else sorted(values)[len(values) // 2]
    raise DoubtfulUnit(got=readings[odd].length, expected_mm=usual, fields=(readings[odd].field,))


def dials_agree(
    readings: Sequence[ReadingIn], *, step_mm: float, asked: Collection[str] | None = None
) -> None:
    """Each plane's readings lie on one circle, but for what dial and surface explain.

    asked: the fields to ask about, where not all the readings are new.
    """
    for plane in sorted({one.plane for one in readings}):
        there = [one for one in readings if one.plane == plane]
        odd = dial_odd_one_out(
            [float(one.length.mm) for one in there],
            angles_deg=[float(one.position_deg) for one in there],
            dial_step_mm=step_mm,
        )
        if odd is None or (asked is not None and there[odd.index].field not in asked):
            continue
        one = there[odd.index]
        raise DoubtfulDial(
            got=one.length,
            at=f"{float(one.position_deg):g}",
            off_mm=abs(odd.off_mm),
            explained_mm=odd.explained_mm,
            fields=(one.field,),
        )


def dial_step_mm(gauge: Gauge | None, *, at: datetime) -> float:
    return float(ensure_policy(at=at).dial_step_mm if gauge is None else gauge.step_mm)


def expected_for(round_: Round, set_: ReadingSet) -> float | None:
    if set_.kind == Kind.ACHIEVED:
        return float(round_.job.target_mm)
    expected = round_.job.cylinder.family.expected_gap_mm
    return None if expected is None else float(expected)


def predicted_for(round_: Round, set_: ReadingSet) -> float | None:
    if set_.kind != Kind.ACHIEVED or set_.base_gasket_mm is None:
        return None
    return predicted_height_mm(round_, gasket_mm=float(set_.base_gasket_mm)).height_mm


def not_negative(length: Length, what: str, field: str) -> Decimal:
    if length.mm < 0:
        raise NegativeLength(what=what, got_mm=length, fields=(field,))
    return length.mm
