"""What a chart with given limits will do: false signals in control, and a shift found.

Everything in sigma of one job. A shift may come with the first job of a fresh chart (just after a
service), or to a chart that has long run without a signal.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from qc.numerics.run_length.chain import Chain
from qc.numerics.run_length.cusum import cusum_arl, cusum_chain
from qc.numerics.run_length.distribution import RunLength, either_side, of_chain
from qc.numerics.run_length.ewma import individuals_ewma_chain, widening_run_length
from qc.numerics.run_length.individuals import individuals_arl


@dataclass(frozen=True, eq=False)
class Outlook:
    """false: a fresh chart in control. at_start: a fresh chart, the shift there from its first job
    (zero-state). later: the shift comes after long without a signal (conditional steady state)."""

    false: RunLength
    at_start: RunLength
    later: RunLength


def individuals_outlook(width: float, *, shift: float) -> Outlook:
    """Single points know no past: a shift is found alike whenever it comes."""
    false, found = (
        of_chain(Chain(np.ones(1), np.array([[1 - 1 / individuals_arl(width, shift=one)]])))
        for one in (0.0, shift)
    )
    return Outlook(false=false, at_start=found, later=found)


def ewma_outlook(
    width: float, *, weight: float, shift: float, individuals: float = math.inf
) -> Outlook:
    """An EWMA with limits that widen from its first job, alone or beside an individuals chart."""
    calm, moved = (
        individuals_ewma_chain(individuals, width, weight=weight, shift=one) for one in (0.0, shift)
    )
    return Outlook(
        false=widening_run_length(individuals, width, weight=weight),
        at_start=widening_run_length(individuals, width, weight=weight, shift=shift),
        later=of_chain(Chain(calm.settled(), moved.moves)),
    )


def cusum_outlook(*, k: float, h: float, shift: float, head_start: float = 0.0) -> Outlook:
    """Two sides. `later` is the side toward the shift alone; the other finds it sooner in under one
    run of a hundred."""
    calm = cusum_chain(k=k, h=h)
    toward = cusum_chain(k=k, h=h, shift=abs(shift))
    return Outlook(
        false=_two_sided(k=k, h=h, shift=0.0, head_start=head_start),
        at_start=_two_sided(k=k, h=h, shift=shift, head_start=head_start),
        later=of_chain(Chain(calm.settled(), toward.moves)),
    )


def _two_sided(*, k: float, h: float, shift: float, head_start: float) -> RunLength:
    up, down = (cusum_chain(k=k, h=h, shift=one, head_start=head_start) for one in (shift, -shift))
    up_again, down_again = (cusum_chain(k=k, h=h, shift=one) for one in (shift, -shift))
    arl = cusum_arl(k=k, h=h, shift=shift, head_start=head_start)
    return either_side(up, down, up_again=up_again, down_again=down_again, arl=arl)
