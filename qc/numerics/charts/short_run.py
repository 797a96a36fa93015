"""Deviations that let jobs with different targets share one chart."""

from __future__ import annotations

from numpy.typing import ArrayLike

from qc.errors import BadInput
from qc.numerics.checks import require_same_length
from qc.numerics.results import FloatArray
from qc.numerics.series import require_series


def deviations(achieved: ArrayLike, *, target: ArrayLike) -> FloatArray:
    """achieved - target for each job, shape (n,), positive when wider than asked.

    Right when every family scatters alike; chart the result with individuals_chart.
    Raises NotFinite, TooFewReadings, BadInput.
    """
    got, wanted = require_series(achieved), require_series(target, what="A target")
    require_same_length(achieved=got, target=wanted)
    return got - wanted


def scaled_deviations(
    achieved: ArrayLike, *, target: ArrayLike, tolerance: ArrayLike
) -> FloatArray:
    """(achieved - target) / tolerance, tolerance being the half width allowed, above zero.

    -1 and 1 are the tolerance limits. For families whose tolerances, and with them the care taken,
    differ. Raises as deviations.
    """
    allowed = require_series(tolerance, what="A tolerance")
    off = deviations(achieved, target=target)
    require_same_length(achieved=off, tolerance=allowed)
    if not (allowed > 0).all():
        raise BadInput(why=f"A tolerance must be above zero; got {allowed.min():g}.")
    return off / allowed
