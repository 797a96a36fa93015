"""How deep a round was cut, from its dial readings, or how deep it was planned."""

from __future__ import annotations

from dataclasses import dataclass

from qc.models import Kind, Reading, Round
from qc.numerics.cutting import depth_from_dial


@dataclass(frozen=True)
class Depth:
    """`mm` is None where nothing was cut or planned. A planned depth stays off the height chart."""

    mm: float | None
    is_planned: bool = False


def touch_off_mm(round_: Round) -> float | None:
    """The dial reading at touch-off, or None before it is taken."""
    touched = (
        Reading.objects.filter(set__round=round_, kind=Kind.TOUCH_OFF, voided_at=None)
        .order_by("-set__pk", "-pk")
        .first()
    )
    return None if touched is None else float(touched.value_mm)


def depth_cut(round_: Round) -> Depth:
    """Last size-cutting dial reading less touch-off; the planned depth if no pass was recorded."""
    last = round_.passes.filter(voided_at=None, is_spring=False).order_by("-number").first()
    touched = touch_off_mm(round_)
    if last is not None and touched is not None:
        return Depth(
            depth_from_dial(
                float(last.dial_mm),
                touch_off_mm=touched,
                angle_factor=float(round_.dial_factor or 1),
                paper_mm=float(round_.paper_mm),
            )
        )
    if round_.planned_depth_mm is None:
        return Depth(None)
    return Depth(float(round_.planned_depth_mm), is_planned=True)
