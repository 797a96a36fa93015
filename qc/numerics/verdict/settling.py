"""How many pieces of solder at each position would settle a verdict that is undecided."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence

from qc.numerics.results import BudgetLine
from qc.numerics.verdict.codes import UNDECIDED, verdict_codes

# A form has boxes for so many; who lays more is measuring with the wrong thing.
MOST_PIECES = 6
REPEATS, GAUGE = "repeats", ("gauge step", "gauge calibration")


def pieces_that_settle(
    lines: Sequence[BudgetLine],
    *,
    pieces: int,
    guard_factor: float,
    judged: Mapping[str, float],
    without: Collection[str] = (),
) -> int | None:
    """The fewest pieces at each position, up to MOST_PIECES, with which the verdict is no longer
    undecided, should the readings stay as they are; None where no number does.

    lines: the budget of a set that shows evenness, with `pieces` at the position that has fewest.
    judged: what `verdict_codes` takes, but for the guard bands. without: names of budget lines that
    another way of measuring would be rid of; then as many pieces as there are may do.
    """
    kept = [line for line in lines if line.name not in without]
    first = pieces if without else pieces + 1
    for wanted in range(first, max(MOST_PIECES, first) + 1):
        guards = _guards(kept, fewer_by=pieces / wanted, factor=guard_factor)
        if verdict_codes(**judged, **guards) != UNDECIDED:
            return wanted
    return None


def _guards(lines: Sequence[BudgetLine], *, fewer_by: float, factor: float) -> dict[str, float]:
    """Each guard band where the variance of repeats is that much less."""
    shares = [math.sqrt(fewer_by) if line.name == REPEATS else 1.0 for line in lines]

    def guard(reach: Sequence[float]) -> float:
        parts = zip(lines, shares, reach, strict=True)
        return factor * math.hypot(*(line.u_mm * share * c for line, share, c in parts))

    return {
        "guard_height_mm": guard([line.c_height for line in lines]),
        "guard_tightest_mm": guard([line.c_tightest for line in lines]),
        "guard_evenness_mm": guard([line.c_side_to_side or 0.0 for line in lines]),
    }
