"""What each channel looks for, and what it takes for granted until the shop's own jobs say more.

Lengths in mm; tilts are side-to-side differences over a 40 mm measuring circle, per axis. The
figures are those of an invented shop, chosen as plausible bench values (no published source); noise
and walk sizes are learned from the shop's own jobs.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from qc.numerics.results import FloatArray, IntArray

# A reading's error is one of three: the usual one, a careless one, a wild one, with these sizes.
SCALES = np.array([1.0, 2.5, 8.0])
# How often each is met before anything is learned, and how many readings that belief is worth.
USUAL_SHARES = np.array([0.95, 0.04, 0.01])
SHARES_WORTH = 60.0
# The noise's size: so many readings the belief is worth, and so many readings are remembered.
NOISE_WORTH = 40.0
NOISE_MEMORY = 400.0

# The rival filter's walk, in variance; its log odds before the shop's jobs speak for it; and for
# how many readings what they said is remembered.
RIVAL_WALK = 10.0
RIVAL_LOG_ODDS = -2.5
WALK_MEMORY = 4000.0


@dataclass(frozen=True)
class Shape:
    """One way of moving. sd: standard deviation, per axis, of a step's size or a ramp's slope per
    own job. share: prior. every, oldest: which of its onsets are kept, see onsets."""

    is_ramp: bool
    sd: float
    share: float
    every: int
    oldest: int = 128


@dataclass(frozen=True)
class Kind:
    """A kind of resource. sd: of its bias after a service. log_prior: of being the one at fault.
    wanders: its bias may walk further between jobs than is usual, and the shop's jobs say how far.
    """

    name: str
    sd: float
    log_prior: float = 0.0
    wanders: bool = False


@dataclass(frozen=True)
class ChannelSettings:
    """deltas: 2 for a vector, 1 for a number. common_sd: of what all jobs share. engine_sd: of what
    belongs to one engine, None where nothing does. walk_var: variance a bias gains an own job.
    log_offset: of the log evidence that a flag takes, from simulation; see thresholds.

    set_holds: belief that a suspect set needs to hold what moved in nine of ten cases whatever
    moved, by simulation: small moves are found late, when chance has had time to speak for others.
    set_by_jobs: whether that belief is taken with each kind as likely beforehand."""

    name: str
    deltas: int
    kinds: tuple[Kind, ...]
    shapes: tuple[Shape, ...]
    common_sd: float
    engine_sd: float | None
    walk_var: float
    log_offset: float
    set_holds: float
    set_by_jobs: bool = False

    @property
    def fixed_blocks(self) -> int:
        return 1 if self.engine_sd is None else 2


class SettingArrays(NamedTuple):
    """A channel's settings as the sums take them: one place a shape, one a kind. first: the row of
    the first resource's first state."""

    first: int
    deltas: int
    walk_var: float
    engine_var: float
    ramp: IntArray
    shape_var: FloatArray
    every: IntArray
    oldest: IntArray
    log_share: FloatArray
    log_prior: FloatArray
    set_holds: float
    set_by_jobs: bool


def as_arrays(settings: ChannelSettings) -> SettingArrays:
    shapes = settings.shapes
    return SettingArrays(
        first=settings.deltas * settings.fixed_blocks,
        deltas=settings.deltas,
        walk_var=settings.walk_var,
        engine_var=0.0 if settings.engine_sd is None else settings.engine_sd**2,
        ramp=np.array([int(shape.is_ramp) for shape in shapes]),
        shape_var=np.array([shape.sd**2 for shape in shapes]),
        every=np.array([shape.every for shape in shapes]),
        oldest=np.array([shape.oldest for shape in shapes]),
        log_share=np.log([shape.share for shape in shapes]),
        log_prior=np.array([kind.log_prior for kind in settings.kinds]),
        set_holds=settings.set_holds,
        set_by_jobs=settings.set_by_jobs,
    )
