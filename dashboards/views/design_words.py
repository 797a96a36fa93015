"""A designed chart in words: its name and its settings, limits in the viewer's unit too."""

from __future__ import annotations

import math

from dashboards.figures.lengths import SHOWN
from qc.lookups.charts.designs import DesignRow

NAMES = {
    "individuals": "Single jobs",
    "ewma": "Running average",
    "individuals_and_ewma": "Single jobs and running average",
    "cusum": "Cumulative sums",
    "cusum_head_start": "Cumulative sums, head start",
}


def settings_in_words(row: DesignRow, *, sigma_mm: float, unit: str) -> list[str]:
    """One line a setting; limits from the centre, those of the average once they have widened."""
    design = row.design

    def length(sigmas: float) -> str:
        return SHOWN[unit].text(sigmas * sigma_mm)

    told = []
    if design.individuals is not None:
        told.append(
            f"single jobs: limits {design.individuals:.2f} sigma, ±{length(design.individuals)}"
        )
    if design.ewma is not None and design.weight is not None:
        own = design.ewma * math.sqrt(design.weight / (2 - design.weight))
        told.append(
            f"average: newest job counts {design.weight * 100:.0f} %, limits {design.ewma:.2f} of "
            f"its own sigma, ±{length(own)}"
        )
    if design.k is not None and design.h is not None:
        told.append(f"sums: allowance k {design.k:.2f} sigma, {length(design.k)}")
        told.append(f"limit h {design.h:.2f} sigma, {length(design.h)}")
    if design.head_start:
        told.append(f"start at {design.head_start:.2f} sigma, half the limit")
    return told
