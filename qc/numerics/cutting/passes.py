"""A depth of cut as passes, as dial readings, and as flange height left.

Depth is along the spindle. The dial counts up as the tool goes deeper; `angle_factor` is what one
dial millimetre moves along the spindle (1 on the carriage, less on a swivelled compound).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from qc.errors import PassesDoNotFit
from qc.numerics.checks import (
    require_between,
    require_finite,
    require_length_mm,
    require_lengths_mm,
)
from qc.numerics.results import MaterialLeft, PassPlan, Said

SAME_MM = 1e-9


def pass_plan(
    depth_mm: float, *, rough_max_mm: float, finish_mm: float, smallest_chip_mm: float
) -> PassPlan:
    """Split a depth into equal roughing passes and one finishing pass, mm.

    rough_max_mm: deepest roughing pass. finish_mm: the finishing pass. smallest_chip_mm: the least
        the edge will cut rather than rub; no pass is planned thinner.
    What roughing would leave under the smallest chip is taken together with the finishing pass. A
    depth under the smallest chip gives no pass, and the reason says so.
    Raises PassesDoNotFit unless smallest chip <= finish <= rough_max, which holds two such chips.
    Source: common practice, no source for the split.
    """
    depth = require_length_mm(depth_mm, what="The depth")
    rough_max = require_length_mm(rough_max_mm, what="The deepest pass", above_zero=True)
    finish = require_length_mm(finish_mm, what="The finishing pass", above_zero=True)
    chip = require_length_mm(smallest_chip_mm, what="The smallest chip")
    if not (chip <= finish <= rough_max and 2.0 * chip <= rough_max):
        raise PassesDoNotFit(finish_mm=finish, chip_mm=chip, deepest_mm=rough_max)
    if depth <= SAME_MM:
        return _no_pass(Said("nothing_to_cut", {}))
    if depth < chip - SAME_MM:
        return _no_pass(Said("pass_too_thin", {"depth_mm": depth, "chip_mm": chip}))
    to_rough = depth - finish
    if to_rough < max(chip, SAME_MM) - SAME_MM:
        count = _passes(depth, rough_max)
        return PassPlan((depth / count,) * count, count - 1)
    count = _passes(to_rough, rough_max)
    return PassPlan((to_rough / count,) * count + (finish,), count)


def _no_pass(said: Said) -> PassPlan:
    return PassPlan((), 0, str(said), said)


def _passes(depth: float, most: float) -> int:
    return math.ceil(depth / most - SAME_MM)


def dial_targets(
    passes_mm: Sequence[float],
    *,
    touch_off_mm: float,
    angle_factor: float = 1.0,
    paper_mm: float = 0.0,
) -> tuple[float, ...]:
    """Dial reading at the end of each pass, mm, in cutting order; the last also for a spring pass.

    touch_off_mm: dial reading when the tool touched. paper_mm: paper between tool and face then.
    Depth along the spindle = (dial - touch-off) x angle_factor - paper.
    """
    factor = _factor(angle_factor)
    touch_off = float(require_finite(touch_off_mm, what="The touch-off reading"))
    paper = require_length_mm(paper_mm, what="The paper")
    if not passes_mm:
        return ()
    each = require_lengths_mm(passes_mm, what="A pass")
    return tuple(touch_off + (float(deep) + paper) / factor for deep in each.cumsum())


def depth_from_dial(
    last_mm: float, *, touch_off_mm: float, angle_factor: float = 1.0, paper_mm: float = 0.0
) -> float:
    """Depth cut, mm, from the dial at the last size-cutting pass; a spring pass adds nothing.

    Negative means that the tool never reached the face.
    """
    travel = float(require_finite(last_mm, what="The last dial reading")) - float(
        require_finite(touch_off_mm, what="The touch-off reading")
    )
    return travel * _factor(angle_factor) - require_length_mm(paper_mm, what="The paper")


def compound_factor(from_spindle_deg: float) -> float:
    """angle_factor of a compound whose slide stands this many degrees off the spindle's axis."""
    angle = require_between(from_spindle_deg, what="The compound's angle", lowest=0.0, highest=89.9)
    return math.cos(math.radians(angle))


def _factor(angle_factor: float) -> float:
    return require_between(angle_factor, what="The angle factor", lowest=1e-3, highest=1.0)


def material_left(flange_now_mm: float, *, depth_mm: float, flange_min_mm: float) -> MaterialLeft:
    """Flange height after a cut and what it leaves over the minimum; negative spare: too deep."""
    left = require_length_mm(flange_now_mm, what="The flange height") - require_length_mm(
        depth_mm, what="The depth"
    )
    least = require_length_mm(flange_min_mm, what="The least flange height")
    return MaterialLeft(left_mm=left, spare_mm=left - least)
