"""An uncertainty budget as its table shows it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from qc.models import JobResult


@dataclass(frozen=True)
class BudgetRow:
    """One source: its standard uncertainty u_mm, and how much of it reaches each result, mm.

    side_to_side_mm None: the positions give none. df None: infinite. source: the gauge study it
    comes from, or nothing.
    """

    name: str
    acts_on: str
    distribution: str
    u_mm: float
    height_mm: float
    side_to_side_mm: float | None
    tightest_mm: float
    df: float | None
    source: str


def budget_rows(result: JobResult) -> Sequence[BudgetRow]:
    """Largest part of the tightest gap first, as the result was computed."""
    return [
        BudgetRow(
            name=line["name"],
            acts_on=line["acts_on"],
            distribution=line["distribution"],
            u_mm=line["u_mm"],
            height_mm=line["u_mm"] * line["c_height"],
            side_to_side_mm=(
                None if line["c_side_to_side"] is None else line["u_mm"] * line["c_side_to_side"]
            ),
            tightest_mm=line["u_mm"] * line["c_tightest"],
            df=line["df"],
            source=line.get("source", ""),
        )
        for line in result.detail["budget"]
    ]
