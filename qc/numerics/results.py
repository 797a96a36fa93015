"""What the sums of the main job return. Lengths in mm, angles in degrees on the engine's clock.

Fields hold None where the readings cannot support a value; nothing is guessed to fill a field.
Classes holding arrays compare by identity.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from qc.sentences import in_words

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

FitKind = Literal["vector", "component", "height", "reading"]
LimitedBy = Literal["target", "floor", "material", "none"]
VerdictKind = Literal["accept", "cut_again", "undecided", "reject"]
Conformity = Literal["conforms", "undecided", "does not conform"]


@dataclass(frozen=True)
class SolderCrush:
    """ratio: wire diameter over gap. width_mm: how wide the crushed wire spreads."""

    ratio: float
    width_mm: float


@dataclass(frozen=True)
class PooledSpread:
    """sd_mm: standard deviation within groups, None without a group of two. df: its freedom."""

    sd_mm: float | None
    df: int


@dataclass(frozen=True, eq=False)
class PositionValues:
    """One gap per clock position, positions ascending; arrays of shape (k,).

    piece_mm: each position's pieces, in the order of the positions.
    gauge_too_coarse: the spread is no larger than the gauge's own step explains, so it says
    nothing about technique.
    """

    position_deg: FloatArray
    value_mm: FloatArray
    pieces: IntArray
    piece_mm: tuple[FloatArray, ...]
    spread_mm: float | None
    spread_df: int
    gauge_too_coarse: bool


@dataclass(frozen=True, eq=False)
class GapFit:
    """The gap round the bore, g(phi) = height + a cos(phi) + b sin(phi), and what it implies.

    kind: "vector" (all fields), "component" (two opposite positions), "height" (positions that
        cannot hold a tilt) or "reading" (one position: height_mm repeats it, and feeds no chart).
    amplitude_mm, wide_toward_deg: length and direction of (a, b); the gap is widest there. No
        direction when the gap is even.
    side_to_side_mm: 2 x amplitude. tightest_mm: the least of lowest_mm and height - amplitude.
    misfit_rms_mm: root of the squared residuals over their n - 3 degrees of freedom; n >= 4.
    saddle_mm: two-lobe part of four equally spaced positions, positive when the first and third
        are the wide ones.
    unit_covariance, unit_height_variance: of (a, b) and of the height, for position values of
        variance 1 mm2; multiply by the real variance.
    component_mm: half the difference of two opposite positions, positive when the gap is wide
        toward component_axis_deg.
    """

    kind: FitKind
    position_deg: FloatArray
    height_mm: float
    lowest_mm: float
    tightest_mm: float
    unit_height_variance: float
    a_mm: float | None = None
    b_mm: float | None = None
    amplitude_mm: float | None = None
    wide_toward_deg: float | None = None
    side_to_side_mm: float | None = None
    misfit_rms_mm: float | None = None
    saddle_mm: float | None = None
    unit_covariance: FloatArray | None = None
    component_axis_deg: float | None = None
    component_mm: float | None = None


@dataclass(frozen=True, eq=False)
class GapFits:
    """The plane fit of many jobs read at the same positions; arrays of shape (n,), as GapFit."""

    height_mm: FloatArray
    a_mm: FloatArray
    b_mm: FloatArray
    amplitude_mm: FloatArray
    side_to_side_mm: FloatArray
    lowest_mm: FloatArray
    tightest_mm: FloatArray


@dataclass(frozen=True)
class Said:
    """A sentence as its code and its facts; `qc.sentences` words it, lengths in anyone's unit."""

    code: str
    facts: Mapping[str, float | str]

    def __str__(self) -> str:
        """In words, lengths in mm."""
        return in_words({"code": self.code, "facts": self.facts})


@dataclass(frozen=True)
class CutPlan:
    """How deep to cut the base, what set the depth, and what the cut will leave.

    target_depth_mm, floor_depth_mm, material_depth_mm: what each limit alone would allow,
    negative when it is already passed; material None when no flange height is known.
    reason: `said` in words, whenever the target does not set the depth, else empty.
    """

    depth_mm: float
    limited_by: LimitedBy
    height_after_mm: float
    tightest_after_mm: float
    target_depth_mm: float
    floor_depth_mm: float
    material_depth_mm: float | None
    reason: str
    said: Said | None


@dataclass(frozen=True)
class GapErrors:
    """Achieved against predicted and target, mm; positive means the gap came out wider."""

    height_error_mm: float | None
    target_error_mm: float


@dataclass(frozen=True)
class PassPlan:
    """Depth of each pass in cutting order; `rough` of them before the finishing pass.

    A spring pass repeats the last dial reading and is not listed. reason: why there is no pass,
    which is `said` in words.
    """

    passes_mm: tuple[float, ...]
    rough: int
    reason: str = ""
    said: Said | None = None


@dataclass(frozen=True)
class KinematicFinish:
    """Finish left by feed and nose radius alone, um. Rt is peak to valley; Ra a quarter of it."""

    rt_um: float
    ra_um: float


@dataclass(frozen=True)
class MaterialLeft:
    """left_mm: flange height after the cut. spare_mm: what that leaves over the least allowed."""

    left_mm: float
    spare_mm: float


@dataclass(frozen=True)
class Combined:
    """A combined standard uncertainty. df None: infinite. expanded_mm = k x u_mm."""

    u_mm: float
    df: float | None
    k: float
    expanded_mm: float


@dataclass(frozen=True)
class BudgetLine:
    """One source of uncertainty; each c_ is how much of u_mm reaches that result.

    c_side_to_side None: these positions give no side-to-side difference. df None: infinite.
    source: the study it comes from, where one is in force.
    """

    name: str
    acts_on: str
    distribution: str
    u_mm: float
    c_height: float
    c_side_to_side: float | None
    c_tightest: float
    df: float | None
    source: str = ""


@dataclass(frozen=True)
class GapBudget:
    """Every line, largest part of the tightest gap first, and the three combined results."""

    lines: tuple[BudgetLine, ...]
    height: Combined
    side_to_side: Combined | None
    tightest: Combined


@dataclass(frozen=True)
class NextCut:
    """The cut that would come next: depth a new plan allows, and the least the edge will cut.

    room_mm: flange metal that may still go. None: not known, save that a plan the material limits
    has no more than its depth.
    """

    depth_mm: float
    smallest_chip_mm: float
    limited_by: LimitedBy
    room_mm: float | None = None

    @property
    def flange_mm(self) -> float:
        """Most that a cut may take anywhere on the face, mm; inf when nothing is known of it."""
        if self.room_mm is not None:
            return self.room_mm
        return self.depth_mm if self.limited_by == "material" else math.inf


@dataclass(frozen=True)
class Verdict:
    """The judgement of one round, with the reasons and the rule in plain sentences.

    reasons, another_pass_reason are said and another_pass_said in words, lengths in mm.

    probability_: chance that the true value meets its limit, given the reading (JCGM 106).
    guard_: how far inside a limit a value must lie to count as shown. Evenness None: not shown.
    """

    kind: VerdictKind
    reasons: tuple[str, ...]
    said: tuple[Said, ...]
    another_pass_helps: bool
    another_pass_reason: str
    another_pass_said: Said
    probability_height: float
    probability_tightest: float
    probability_evenness: float | None
    guard_height_mm: float
    guard_tightest_mm: float
    guard_evenness_mm: float | None
    rule: str
