"""What the dial readings of a round say: runout, which way to tap, and what tightening moved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from qc.errors import BadInput
from qc.models import Kind, Reading, ReadingSet, Round, ShopPolicy
from qc.numerics.axis_tilt import AxisTilt, axis_tilt
from qc.numerics.carry_through import Share
from qc.numerics.dial import lever_true_mm
from qc.numerics.indicating import (
    Indicated,
    Tap,
    TighteningShift,
    judge_indicated,
    tap_to_centre,
    tightening_shift,
)
from qc.numerics.runout import Runout, fit_runout

JAWS_DEG = {3: (0.0, 120.0, 240.0), 4: (0.0, 90.0, 180.0, 270.0)}


@dataclass(frozen=True, eq=False)
class PlaneRunout:
    """One circle round the fixture. `refused` says why readings at these angles hold no circle."""

    plane: int
    angles_deg: Sequence[float]
    dial_mm: Sequence[float]
    runout: Runout | None
    tap: Tap | None
    standing: Indicated | None
    refused: str


@dataclass(frozen=True, eq=False)
class IndicatedSet:
    """One turn of the dial, snug or tightened; `lean` where two planes were read."""

    set: ReadingSet
    planes: Sequence[PlaneRunout]
    lean: AxisTilt | None


@dataclass(frozen=True, eq=False)
class Indicating:
    """The newest snug and tightened turns, and how tightening moved the axis in plane 1."""

    snug: IndicatedSet | None
    tight: IndicatedSet | None
    shift: TighteningShift | None
    limit_mm: float


def indicating_of(round_: Round, *, policy: ShopPolicy) -> Indicating:
    snug = _newest(round_, Kind.INDICATED_SNUG, policy=policy)
    tight = _newest(round_, Kind.INDICATED_TIGHT, policy=policy)
    return Indicating(snug, tight, _shift(snug, tight), float(policy.indicating_limit_mm))


def _newest(round_: Round, kind: Kind, *, policy: ShopPolicy) -> IndicatedSet | None:
    taken = round_.reading_sets.filter(kind=kind).order_by("-at", "-pk").first()
    if taken is None:
        return None
    readings = list(taken.readings.filter(voided_at=None))
    step = float(policy.dial_step_mm if taken.gauge is None else taken.gauge.step_mm)
    planes = [
        _read(
            plane,
            [one for one in readings if one.plane == plane],
            step_mm=step,
            lever_deg=float(taken.lever_angle_deg or 0),
            jaws=4 if round_.fixture is None else round_.fixture.jaws,
            limit_mm=float(policy.indicating_limit_mm),
        )
        for plane in sorted({one.plane for one in readings})
    ]
    return IndicatedSet(taken, planes, _lean(round_, planes, policy=policy))


def read_plane(
    plane: int,
    angles_deg: Sequence[float],
    reading_mm: Sequence[float],
    *,
    step_mm: float,
    lever_deg: float,
    jaws: int,
    limit_mm: float,
) -> PlaneRunout:
    """One turn of the dial, as read: the lever's cosine is taken into account here."""
    dial = [lever_true_mm(one, angle_deg=lever_deg) for one in reading_mm]
    runout = fit_runout(dial, angles_deg=angles_deg, dial_step_mm=step_mm)
    return PlaneRunout(
        plane=plane,
        angles_deg=angles_deg,
        dial_mm=dial,
        runout=runout,
        tap=tap_to_centre(runout.eccentricity, jaws_deg=JAWS_DEG[jaws]),
        standing=judge_indicated(runout.tir_mm, limit_mm=limit_mm, u_mm=runout.u_tir_mm),
        refused="",
    )


def _read(plane: int, readings: Sequence[Reading], **how: Any) -> PlaneRunout:
    """The plane of a stored set; readings that hold no circle are shown with the reason."""
    angles = [float(one.position_deg) for one in readings]
    dial = [float(one.value_mm) for one in readings]
    try:
        return read_plane(plane, angles, dial, **how)
    except BadInput as refusal:
        return PlaneRunout(plane, angles, dial, None, None, None, str(refusal))


def _lean(round_: Round, planes: Sequence[PlaneRunout], *, policy: ShopPolicy) -> AxisTilt | None:
    """Two circles and the distance between them give the axis; the family gives what it tilts."""
    fixture, family = round_.fixture, round_.job.cylinder.family
    if fixture is None or fixture.planes_apart_mm is None or len(planes) < 2:
        return None
    near, far = planes[0].runout, planes[1].runout
    if near is None or far is None or family.flange_diameter_mm is None:
        return None
    return axis_tilt(
        near.eccentricity,
        far.eccentricity,
        apart_mm=float(fixture.planes_apart_mm),
        face_diameter_mm=float(family.flange_diameter_mm),
        measuring_radius_mm=float(family.measuring_radius_mm),
        to_face_mm=float(fixture.to_face_mm),
        u_component_mm=max(near.u_component_mm, far.u_component_mm),
        carried=_carried(policy),
    )


def _carried(policy: ShopPolicy) -> Share | None:
    if policy.carry_through is None:
        return None
    return Share(float(policy.carry_through), float(policy.carry_through_u))


def _shift(snug: IndicatedSet | None, tight: IndicatedSet | None) -> TighteningShift | None:
    if snug is None or tight is None:
        return None
    before, after = snug.planes[0].runout, tight.planes[0].runout
    if before is None or after is None:
        return None
    return tightening_shift(
        before.eccentricity,
        after.eccentricity,
        u_component_mm=max(before.u_component_mm, after.u_component_mm),
    )
