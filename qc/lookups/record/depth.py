"""How deep a round was cut, from its dial readings, or how deep it was planned."""

from __future__ import annotations

from collections.abc import Iterable
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
    return touch_offs_mm([round_]).get(round_.pk)


def touch_offs_mm(rounds: Iterable[Round]) -> dict[int, float]:
    """The same of several rounds, by their keys; none for those not touched off."""
    touched = Reading.objects.filter(set__round__in=rounds, kind=Kind.TOUCH_OFF, voided_at=None)
    rows = touched.order_by("set__pk", "pk").values_list("set__round_id", "value_mm")
    return {key: float(value) for key, value in rows if key is not None}


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
