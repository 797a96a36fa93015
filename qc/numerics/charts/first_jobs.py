"""Limits that a chart's first jobs give: how many it takes, and how wide they are drawn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from qc.errors import BadInput, TooFewReadings
from qc.numerics.charts.few_jobs import Widths, widths_when_estimated
from qc.numerics.charts.individuals import IndividualsLimits, frozen_limits, individuals_limits

# Limits estimated from fewer jobs than this move so much that a signal means little.
FEWEST_JOBS = 12
BASELINE_JOBS = 40


@dataclass(frozen=True)
class FirstLimits:
    """single: for single jobs, as wide as an estimate must be; average_width: of their EWMA's, in
    sigma."""

    single: IndividualsLimits
    average_width: float


def estimated_limits(
    readings: tuple[float, ...], begins: tuple[bool, ...]
) -> IndividualsLimits | None:
    """Centre and sigma of the first jobs, or None while there are too few jobs or neighbours.

    The centre is the mean; sigma comes from the median moving range, which one bad job cannot
    inflate.
    """
    if len(readings) < FEWEST_JOBS or len(readings) - sum(begins) < FEWEST_JOBS // 2:
        return None
    return individuals_limits(
        readings, spread="median", stretch_start=np.array(begins, dtype=np.bool_)
    )


def first_limits(
    readings: tuple[float, ...], begins: tuple[bool, ...], *, known: Widths, weight: float = 1.0
) -> FirstLimits | None:
    """What a whole record is drawn against: the limits of its first BASELINE_JOBS jobs.

    known: the widths that limits which are known would have. None as estimated_limits.
    """
    found = estimated_limits(readings[:BASELINE_JOBS], begins[:BASELINE_JOBS])
    if found is None:
        return None
    return _drawn(found, known=known, weight=weight, is_held=found.jobs == BASELINE_JOBS)


def held_limits(
    centre: float, sigma: float, *, jobs: int, pairs: int, known: Widths, weight: float = 1.0
) -> FirstLimits:
    """What limits that a person froze from so many jobs and neighbours are drawn as."""
    found = frozen_limits(centre, sigma, jobs=jobs, pairs=pairs)
    return _drawn(found, known=known, weight=weight, is_held=True)


def _drawn(found: IndividualsLimits, *, known: Widths, weight: float, is_held: bool) -> FirstLimits:
    jobs, pairs = found.jobs, found.pairs
    widths = widths_when_estimated(known, weight=weight, jobs=jobs, pairs=pairs, is_held=is_held)
    single = frozen_limits(found.centre, found.sigma, widths.single, jobs=jobs, pairs=pairs)
    return FirstLimits(single, widths.average)


def limits_from_jobs(readings: tuple[float, ...], begins: tuple[bool, ...]) -> IndividualsLimits:
    """Limits to freeze, from the jobs a person chose. Raises TooFewReadings, BadInput."""
    limits = estimated_limits(readings, begins)
    if limits is None:
        raise TooFewReadings(needed=FEWEST_JOBS, got=len(readings))
    if limits.is_zero_width:
        raise BadInput(why="The gauge is too coarse: these jobs do not differ by its steps.")
    return limits
