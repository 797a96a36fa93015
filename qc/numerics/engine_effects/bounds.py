"""Refusals the engine sums share beyond `qc.numerics.checks`: more than nothing, strictly under."""

from __future__ import annotations

from qc.errors import BadInput, OutOfReach
from qc.numerics.checks import require_between, require_finite

FASTEST_RPM = 60_000.0


def require_positive(value: float, *, what: str, at_most: float) -> float:
    """0 < value <= at_most. Raises NotFinite, OutOfReach, and BadInput on zero."""
    number = require_between(value, what=what, lowest=0.0, highest=at_most)
    if number == 0:
        raise BadInput(why=f"{what} must be more than 0.")
    return number


def require_under(value: float, *, what: str, lowest: float, limit: float) -> float:
    """lowest <= value < limit. Raises NotFinite, OutOfReach."""
    number = float(require_finite(value, what=what))
    if not lowest <= number < limit:
        raise OutOfReach(
            what=what, got=f"{number:g}", lowest=f"{lowest:g}", highest=f"just under {limit:g}"
        )
    return number


def require_rpm(rpm: float) -> float:
    """Raises NotFinite, OutOfReach, and BadInput on zero."""
    return require_positive(rpm, what="The engine speed (rpm)", at_most=FASTEST_RPM)
