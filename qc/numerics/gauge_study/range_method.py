"""The average-and-range way of a balanced gauge study, for a check by pocket calculator.

It cannot see an interaction and wastes readings; the analysis of variance is the one to use.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from qc.errors import BadInput
from qc.numerics.constants import d2, d3
from qc.numerics.gauge_study.layout import GaugeReadings
from qc.numerics.series import require_number


@dataclass(frozen=True)
class RangeStudy:
    """Standard deviations in the readings' unit: repeatability (equipment), reproducibility
    (appraiser), grr, part, total; and the ranges they come from. classes: 1.41 part / grr, whole
    part, None without any grr."""

    mean_range: float
    operator_range: float
    part_range: float
    repeatability: float
    reproducibility: float
    grr: float
    part: float
    total: float
    classes: int | None


def range_study(
    readings: GaugeReadings,
    *,
    k1: float | None = None,
    k2: float | None = None,
    k3: float | None = None,
) -> RangeStudy:
    """Every part read equally often, twice or more, by every operator.

    k1, k2, k3: 1 / d2* for trials, operators and parts; None computes d2*, the root mean square of
    a mean of g ranges of m values, sqrt(d2(m)^2 + d3(m)^2 / g) (Duncan 1955). Printed k1 usually
    takes g as endless. Raises BadInput for an unbalanced study.
    """
    trials = readings.trials
    if trials is None or trials < 2:
        raise BadInput(why="The range method needs every part read equally often, twice or more.")
    order = np.lexsort((readings.operator, readings.part))
    grid = readings.value[order].reshape(readings.parts, readings.operators, trials)
    mean_range = float(np.ptp(grid, axis=2).mean())
    operator_range = float(np.ptp(grid.mean(axis=(0, 2))))
    part_range = float(np.ptp(grid.mean(axis=(1, 2))))
    repeatability = mean_range * _factor(k1, trials, readings.parts * readings.operators)
    own = operator_range * _factor(k2, readings.operators, 1)
    borrowed = repeatability**2 / (readings.parts * trials)
    reproducibility = math.sqrt(max(0.0, own**2 - borrowed))
    grr = math.hypot(repeatability, reproducibility)
    part = part_range * _factor(k3, readings.parts, 1)
    return RangeStudy(
        mean_range=mean_range,
        operator_range=operator_range,
        part_range=part_range,
        repeatability=repeatability,
        reproducibility=reproducibility,
        grr=grr,
        part=part,
        total=math.hypot(grr, part),
        classes=int(1.41 * part / grr) if grr > 0 else None,
    )


def _factor(given: float | None, size: int, ranges: int) -> float:
    if given is not None:
        return require_number(given, what="A range factor", above=0)
    return 1 / math.sqrt(d2(size) ** 2 + d3(size) ** 2 / ranges)
