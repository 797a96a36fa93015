"""Run length of single independent normal points against fixed limits."""

from __future__ import annotations

import math

from scipy.special import ndtr, ndtri

from qc.numerics.series import require_number


def individuals_arl(width: float, *, shift: float = 0.0) -> float:
    """Jobs to the first point more than `width` sigma from the centre, sigma and centre known.

    shift: how far the mean has moved, in sigma. Limits estimated from few jobs signal at another
    rate than this says: about one chart in two oftener.
    """
    width = require_number(width, what="The width", above=0)
    shift = require_number(shift, what="The shift")
    outside = float(ndtr(shift - width) + ndtr(-shift - width))
    return 1 / outside if outside > 0 else math.inf


def individuals_width(arl0: float) -> float:
    """Width in sigma at which a point in control falls outside once in arl0 jobs; arl0 > 1."""
    return float(-ndtri(0.5 / require_number(arl0, what="The run length", above=1)))
