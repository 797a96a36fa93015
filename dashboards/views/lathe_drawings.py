"""What the plan and lathe pages show beside their forms: timing, dial turns, speed, correction."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse

from dashboards.figures.dial import dial_sweep, dial_sweep_table
from dashboards.figures.rows import DialReading, DialSweep, PortOpening
from dashboards.figures.table import Table
from dashboards.figures.timing import port_timing_ring
from dashboards.views.drawn import drawn
from dashboards.views.ground import page
from qc import access
from qc.actor import Actor
from qc.errors import NotThere
from qc.lookups.charts.correction import DialCorrection, correction_for
from qc.lookups.flags.held_against import held_against
from qc.lookups.flags.lines import FlagLine
from qc.lookups.record.cutting import CuttingAdvice, cutting_advice
from qc.lookups.record.indicating import (
    IndicatedSet,
    Indicating,
    PlaneRunout,
    indicating_of,
)
from qc.lookups.record.jobs import RoundRecord, job_record
from qc.lookups.shop.policy import shop_policy
from qc.models import Kind, Round

WHEN = ("snug", "tight")


@dataclass(frozen=True, eq=False)
class DrawnTurn:
    """One turn of the dial with what its drawing needs."""

    when: str
    taken: IndicatedSet
    planes: list[tuple[PlaneRunout, Table | None]]


def indicated_so_far(round_: Round) -> dict[str, Any]:
    """The newest snug and tightened turns with their tables, and what tightening moved."""
    seen = indicating_of(round_, policy=shop_policy())
    turns = [
        DrawnTurn(when, taken, [(one, _sweep_table(one, seen)) for one in taken.planes])
        for when, taken in zip(WHEN, (seen.snug, seen.tight), strict=True)
        if taken is not None
    ]
    return {"turns": turns, "shift": seen.shift, "limit_mm": seen.limit_mm}


@dataclass(frozen=True)
class OverLimit:
    """The worst runout of a turn of the dial, after tightening or before."""

    tir_mm: float
    limit_mm: float
    is_tight: bool


def over_limit(round_: Round, kind: Kind | None = None) -> OverLimit | None:
    """By the newest turn of a kind, or the last there is: after tightening, if it was tightened.
    None where no plane of it is over the shop's limit."""
    seen = indicating_of(round_, policy=shop_policy())
    turns = {Kind.INDICATED_SNUG: seen.snug, Kind.INDICATED_TIGHT: seen.tight}
    turn = seen.tight or seen.snug if kind is None else turns[kind]
    planes = () if turn is None else turn.planes
    over = [one.runout.tir_mm for one in planes if one.runout and one.standing == "over"]
    return OverLimit(max(over), seen.limit_mm, turn is seen.tight) if over else None


def _sweep_table(plane: PlaneRunout, seen: Indicating) -> Table | None:
    sweep = _sweep(plane, seen)
    return None if sweep is None else dial_sweep_table(sweep)


def _sweep(plane: PlaneRunout, seen: Indicating) -> DialSweep | None:
    if plane.runout is None or plane.tap is None:
        return None
    offset = plane.runout.eccentricity
    return DialSweep(
        readings=tuple(
            DialReading(at, value)
            for at, value in zip(plane.angles_deg, plane.dial_mm, strict=True)
        ),
        mean_mm=plane.runout.mean_mm,
        cos_mm=offset.x_mm,
        sin_mm=offset.y_mm,
        tap_at_deg=plane.tap.strike_deg or 0.0,
        tap_mm=plane.tap.move_mm,
        allowed_mm=seen.limit_mm,
    )


@page("jobs")
def dial_figure(
    request: HttpRequest, by: Actor, number: int, round_number: int, when: str, plane: int
) -> HttpResponse:
    one = _round(number, round_number)
    seen = indicating_of(one.round, policy=shop_policy())
    taken = {"snug": seen.snug, "tight": seen.tight}.get(when)
    found = next((one for one in taken.planes if one.plane == plane), None) if taken else None
    sweep = None if found is None else _sweep(found, seen)
    if sweep is None:
        raise NotThere(what="turn of the dial")
    return drawn(dial_sweep(sweep, unit=by.person.unit))


@page("jobs")
def timing_figure(request: HttpRequest, by: Actor, number: int, round_number: int) -> HttpResponse:
    return drawn(port_timing_ring(port_openings(_round(number, round_number))))


def port_openings(one: RoundRecord) -> tuple[PortOpening, ...]:
    return tuple(PortOpening(**vars(arc)) for arc in one.port_arcs)


def _round(number: int, round_number: int) -> RoundRecord:
    for one in job_record(access.job(number)).rounds:
        if one.round.number == round_number:
            return one
    raise NotThere(what="round")


def at_the_dial(one: RoundRecord) -> dict[str, CuttingAdvice | None]:
    """Speed, feed and finish for the edge in the lathe."""
    chip = float((one.round.plan or {}).get("smallest_chip_mm", 0.0))
    return {"advice": cutting_advice(one.round, policy=shop_policy(), smallest_chip_mm=chip)}


def suggestion(one: RoundRecord) -> DialCorrection | None:
    """What this edge's history suggests adding to the dial; None before an edge is chosen."""
    if one.round.edge is None or one.round.plan is None:
        return None
    return correction_for(one.round.edge, policy=shop_policy())


def suspecting(one: RoundRecord, by: Actor) -> list[FlagLine]:
    """Open height flags that hold this round's edge or its lathe among what may have moved."""
    edge = one.round.edge
    if edge is None:
        return []
    told = {
        line.flag.pk: line
        for kind, key in (("edge", edge.pk), ("lathe", edge.lathe_id))
        for line in held_against(kind, key, by).flags
        if line.is_open and line.is_height
    }
    return list(told.values())
