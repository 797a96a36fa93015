"""At the lathe: passes and dial readings; speed, feed, finish and the smallest chip."""

from qc.numerics.cutting.edge import (
    chip_thickness_nose,
    feed_for_ra,
    finish_kinematic,
    smallest_chip_mm,
    spindle_rpm,
    surface_speed,
)
from qc.numerics.cutting.passes import (
    compound_factor,
    depth_from_dial,
    dial_targets,
    material_left,
    pass_plan,
)

__all__ = [
    "chip_thickness_nose",
    "compound_factor",
    "depth_from_dial",
    "dial_targets",
    "feed_for_ra",
    "finish_kinematic",
    "material_left",
    "pass_plan",
    "smallest_chip_mm",
    "spindle_rpm",
    "surface_speed",
]
