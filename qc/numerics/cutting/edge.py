"""Speed, feed and finish, and how thin a chip an edge can still take."""

from __future__ import annotations

import math

from qc.numerics.checks import require_between, require_length_between_mm, require_length_mm
from qc.numerics.results import KinematicFinish

UM_PER_MM = 1000.0


def smallest_chip_mm(edge_radius_um: float, ratio: float = 0.3) -> float:
    """Least thickness an edge of this radius cuts rather than rubs, mm.

    ratio: 0.2 to 0.4 of the edge radius. Source: micro-cutting papers (from memory); one new
    carbide edge measured 15 um (mdpi.com 2072-666X/13/10/1631).
    """
    radius = require_between(edge_radius_um, what="The edge radius", lowest=0.0, highest=1000.0)
    return radius * require_between(ratio, what="The ratio", lowest=0.0, highest=1.0) / UM_PER_MM


def spindle_rpm(surface_speed_m_min: float, *, diameter_mm: float) -> float:
    """Turns a minute for a surface speed at the outer diameter: 1000 v / (pi D).

    Source: colnet.ddns.net centre lathe calculations. The shop rule 4 x ft/min / in is 4.7 % high.
    """
    speed = require_between(surface_speed_m_min, what="The speed", lowest=0.0, highest=5000.0)
    return 1000.0 * speed / (math.pi * _diameter(diameter_mm))


def surface_speed(rpm: float, *, diameter_mm: float) -> float:
    """Surface speed at a diameter, m/min; it falls toward the bore when facing at fixed rpm."""
    turns = require_between(rpm, what="The spindle speed", lowest=0.0, highest=100_000.0)
    return math.pi * _diameter(diameter_mm) * turns / 1000.0


def finish_kinematic(feed_mm: float, *, nose_radius_mm: float) -> KinematicFinish:
    """Finish from feed per turn and nose radius alone, um: Rt = f^2 / 8r, Ra = f^2 / (18 sqrt3 r).

    The parabola through the cusps; a real face is 1.5 to 2 times rougher (common practice, no
    source). Source: computed by quadrature; the rule Ra = f^2 / 8r confuses Ra with Rt.
    """
    radius = _nose(nose_radius_mm)
    feed = require_length_between_mm(feed_mm, what="The feed", lowest=0.0, highest=2.0 * radius)
    peak_um = UM_PER_MM * feed**2 / (8.0 * radius)
    return KinematicFinish(rt_um=peak_um, ra_um=peak_um * 4.0 / (9.0 * math.sqrt(3.0)))


def feed_for_ra(ra_um: float, *, nose_radius_mm: float) -> float:
    """Feed per turn, mm, whose kinematic Ra is this; the inverse of finish_kinematic."""
    radius = _nose(nose_radius_mm)
    ra_mm = require_between(ra_um, what="The finish", lowest=0.0, highest=1000.0) / UM_PER_MM
    return math.sqrt(18.0 * math.sqrt(3.0) * radius * ra_mm)


def chip_thickness_nose(feed_mm: float, *, depth_mm: float, nose_radius_mm: float) -> float:
    """Thickest chip when facing inside the nose radius, mm: f sqrt(2a/r - (a/r)^2).

    From depth = radius on it is the feed itself. Source: geometry of a round edge (computed).
    """
    feed = require_length_mm(feed_mm, what="The feed")
    share = min(1.0, require_length_mm(depth_mm, what="The depth") / _nose(nose_radius_mm))
    return feed * math.sqrt(share * (2.0 - share))


def _diameter(diameter_mm: float) -> float:
    return require_length_mm(diameter_mm, what="The diameter", above_zero=True)


def _nose(nose_radius_mm: float) -> float:
    return require_length_mm(nose_radius_mm, what="The nose radius", above_zero=True)
