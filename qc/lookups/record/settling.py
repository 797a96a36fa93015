"""What would settle a verdict that is undecided: positions, pieces, a finer gauge or nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from qc.models import JobResult, VerdictKind
from qc.numerics.results import BudgetLine, NextCut
from qc.numerics.verdict.settling import GAUGE, pieces_that_settle
from qc.numerics.verdict.words import SAME_MM

SHOW_EVENNESS_DEG = (0, 90, 180, 270)


@dataclass(frozen=True)
class Settling:
    """missing_deg: where readings are wanted before evenness shows at all. pieces: so many at each
    position would do, should they read as those do that there are: pieces_now where fewest.
    is_finer: with a finer gauge. None of these: no reading would."""

    missing_deg: Sequence[int]
    pieces_now: int
    pieces: int | None = None
    is_finer: bool = False


def settling(result: JobResult) -> Settling | None:
    """Of a round's current result; None where it is decided."""
    if result.verdict != VerdictKind.UNDECIDED:
        return None
    read = result.detail["positions"]
    now = min(one["pieces"] for one in read)
    if result.side_to_side_mm is None:
        taken = {one["position_deg"] for one in read}
        return Settling([at for at in SHOW_EVENNESS_DEG if at not in taken], now)
    lines = [BudgetLine(**line) for line in result.detail["budget"]]
    factor, judged = float(result.policy.guard_factor), _judged(result, result.side_to_side_mm)
    pieces = pieces_that_settle(lines, pieces=now, guard_factor=factor, judged=judged)
    if pieces is not None:
        return Settling([], now, pieces)
    finer = pieces_that_settle(lines, pieces=now, guard_factor=factor, judged=judged, without=GAUGE)
    return Settling([], now, finer, is_finer=finer is not None)


def _judged(result: JobResult, side_to_side_mm: float) -> dict[str, float]:
    """As `qc.numerics.verdict.judge` holds it against its limits."""
    job, next_cut = result.round.job, NextCut(**result.detail["next_cut"])
    target = float(job.target_mm)
    return {
        "height_mm": result.height_mm,
        "tightest_mm": result.tightest_mm,
        "side_to_side_mm": side_to_side_mm,
        "lower_mm": target - float(job.tol_minus_mm) - SAME_MM,
        "upper_mm": target + float(job.tol_plus_mm) + SAME_MM,
        "floor_mm": float(job.floor_mm) - SAME_MM,
        "evenness_limit_mm": float(job.evenness_limit_mm) + SAME_MM,
        "next_depth_mm": next_cut.depth_mm,
        "smallest_chip_mm": next_cut.smallest_chip_mm - SAME_MM,
        "room_mm": next_cut.flange_mm,
    }
