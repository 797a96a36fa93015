"""Speed, feed and finish for a round, from the edge in the lathe and the shop's choices."""

from __future__ import annotations

from dataclasses import dataclass

from qc.models import Round, ShopPolicy
from qc.numerics.cutting import chip_thickness_nose, finish_kinematic, spindle_rpm, surface_speed


@dataclass(frozen=True)
class CuttingAdvice:
    """spindle_rpm is the lesser of what the surface speed gives and the shop's most for a finned
    casting on an arbor; `is_held` when the shop's most decided. Rt and Ra are of feed and nose
    alone; a real face is rougher."""

    diameter_mm: float
    spindle_rpm: float
    surface_speed_m_min: float
    is_held: bool
    feed_mm: float
    rt_um: float
    ra_um: float
    finish_chip_mm: float
    smallest_chip_mm: float

    @property
    def rubs(self) -> bool:
        """Whether the finishing chip is thinner than the edge can form."""
        return self.finish_chip_mm < self.smallest_chip_mm


def cutting_advice(
    round_: Round, *, policy: ShopPolicy, smallest_chip_mm: float
) -> CuttingAdvice | None:
    """None before an edge is chosen or where the family's flange diameter is not known."""
    diameter = round_.job.cylinder.family.flange_diameter_mm
    if round_.edge is None or diameter is None:
        return None
    feed, nose = float(policy.finish_feed_mm), float(round_.edge.nose_radius_mm)
    wanted = spindle_rpm(float(policy.surface_speed_m_min), diameter_mm=float(diameter))
    rpm = min(wanted, float(policy.spindle_most_rpm))
    finish = finish_kinematic(feed, nose_radius_mm=nose)
    return CuttingAdvice(
        diameter_mm=float(diameter),
        spindle_rpm=rpm,
        surface_speed_m_min=surface_speed(rpm, diameter_mm=float(diameter)),
        is_held=rpm < wanted,
        feed_mm=feed,
        rt_um=finish.rt_um,
        ra_um=finish.ra_um,
        finish_chip_mm=chip_thickness_nose(
            feed, depth_mm=min(float(policy.finish_mm), nose), nose_radius_mm=nose
        ),
        smallest_chip_mm=smallest_chip_mm,
    )
