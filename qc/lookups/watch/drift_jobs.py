"""Measured rounds as the drift watch takes them, and what was done to resources between them."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import OuterRef, QuerySet, Subquery

from qc.lookups.charts.kept_charts import Place
from qc.lookups.record import channels
from qc.lookups.record.channels import measured_rounds
from qc.models import JobResult, Round, ServiceEvent
from qc.numerics.drift import Jobs, jobs
from qc.numerics.solder import floored_spread
from qc.numerics.tilt import fit_gap

NAN = float("nan")
# Under which name the watch knows each kind of thing a service is recorded of.
WATCHED = {"fixture_id": "fixture", "lathe_id": "lathe", "edge_id": "edge", "gauge_id": "gauge"}

COLUMNS = (
    "measured_at",
    "pk",
    "round_id",
    "policy_id",
    "round__fixture_id",
    "round__clocking_deg",
    "round__lathe_id",
    "round__edge_id",
    "round__achieved_set__by_id",
    "round__achieved_set__gauge_id",
    "round__achieved_set__gauge__step_mm",
    "round__as_found_set__gauge_id",
    "round__as_found_set__measuring_radius_mm",
    "measuring_radius_mm",
    "tilt_cos_mm",
    "tilt_sin_mm",
    "tilt_component_mm",
    "tilt_component_axis_deg",
    "as_found_tilt_cos_mm",
    "as_found_tilt_sin_mm",
    "detail__as_found",
    "height_error_mm",
    "spread_mm",
    "spread_df",
)
# What cut the face that a later round found.
CUT = ("cut_on", "cut_at")


@dataclass(frozen=True)
class DriftJob:
    """One measured round. told: a row of COLUMNS, and what cut the face it was found with."""

    place: Place
    round_id: int
    told: dict[str, Any]

    @property
    def edge_id(self) -> int | None:
        return self.told["round__edge_id"]


@dataclass(frozen=True)
class ToldTilt:
    """A side-to-side difference toward engine 0 and 90, or along one axis, mm; NaN unknown."""

    pair_mm: tuple[float, float] = (NAN, NAN)
    axis_deg: float = NAN


def drift_jobs(after: Place | None) -> Iterator[DriftJob]:
    """Every round that counts on charts after a place, in order."""
    rows = measured_rounds()
    if after is not None:
        rows = rows.filter(after.later(), measured_at__gte=after.at)
    for row in _with_earlier_cut(rows).values_list(*COLUMNS, *CUT):
        yield _job(row)


def newest_jobs(rounds: QuerySet[JobResult], count: int) -> list[DriftJob]:
    """The newest of some measured rounds, oldest first."""
    rows = _with_earlier_cut(channels.newest(rounds, count)).values_list(*COLUMNS, *CUT)
    return [_job(row) for row in rows]


def rounds_of(numbers: Collection[int], *, of: int, newest: Place) -> dict[int, int]:
    """The round that each of these jobs of the watch is, counted from 0 in the order they were
    taken. of, newest: how many the watch has taken, and the place of the last.

    Counted back from the newest in one query: what moved mostly did so lately.
    """
    if not numbers:
        return {}
    until = of - 1 - max(numbers)
    rows = measured_rounds().filter(newest.not_later(), measured_at__lte=newest.at).reverse()
    rounds = list(rows.values_list("round_id", flat=True)[until : of - min(numbers)])
    return {number: rounds[of - 1 - number - until] for number in numbers}


def _job(row: tuple[Any, ...]) -> DriftJob:
    told = dict(zip((*COLUMNS, *CUT), row, strict=True))
    return DriftJob(Place(told["measured_at"], told["pk"]), told["round_id"], told)


def recent_rows(count: int, *, fixture: int) -> list[dict[str, Any]]:
    """The newest rounds on a fixture: how they were clocked, and on which radius measured."""
    rows = measured_rounds().filter(round__fixture=fixture).reverse()
    names = ("round__clocking_deg", "measuring_radius_mm")
    return [dict(zip(names, row, strict=True)) for row in rows.values_list(*names)[:count]]


def _with_earlier_cut(rows: QuerySet[JobResult]) -> QuerySet[JobResult]:
    """From round 2 the face that is found was cut in the round before, on a fixture we know."""
    earlier = Round.objects.filter(job=OuterRef("round__job"), number=OuterRef("round__number") - 1)
    return rows.annotate(
        cut_on=Subquery(earlier.values("fixture_id")[:1]),
        cut_at=Subquery(earlier.values("clocking_deg")[:1]),
    )


def as_row(job: DriftJob, *, edge_jobs: int) -> Jobs:
    """The round as the drift sums take it, one row. edge_jobs: that its edge had done before."""
    told = job.told
    radius = float(told["measuring_radius_mm"])
    found, achieved = _found(told, radius=radius), _achieved(told)
    df = told["spread_df"]
    return jobs(
        1,
        fixture=[_key(told["round__fixture_id"])],
        operator=[_key(told["round__achieved_set__by_id"])],
        lathe=[_key(told["round__lathe_id"])],
        edge=[_key(told["round__edge_id"])],
        gauge_found=[_key(told["round__as_found_set__gauge_id"])],
        gauge_achieved=[_key(told["round__achieved_set__gauge_id"])],
        clocking_deg=[_number(told["round__clocking_deg"])],
        tilt_found_mm=[found.pair_mm],
        found_axis_deg=[found.axis_deg],
        tilt_achieved_mm=[achieved.pair_mm],
        achieved_axis_deg=[achieved.axis_deg],
        radius_mm=[radius],
        height_error_mm=[_number(told["height_error_mm"])],
        edge_jobs=[edge_jobs],
        spread_mm=[_spread(told) if df else NAN],
        spread_df=[df],
        found_fixture=[_key(told["cut_on"])],
        found_clocking_deg=[_number(told["cut_at"])],
    )


def _achieved(told: dict[str, Any]) -> ToldTilt:
    if told["tilt_cos_mm"] is not None:
        return ToldTilt((2 * told["tilt_cos_mm"], 2 * told["tilt_sin_mm"]))
    if told["tilt_component_mm"] is not None:
        return ToldTilt((2 * told["tilt_component_mm"], NAN), told["tilt_component_axis_deg"])
    return ToldTilt()


def _found(told: dict[str, Any], *, radius: float) -> ToldTilt:
    """As the achieved tilt's circle would have shown it, where the two were read at different
    radii: a plane's tilt grows with the radius."""
    own_radius = told["round__as_found_set__measuring_radius_mm"]
    if own_radius is None:
        return ToldTilt()
    scale = 2 * radius / float(own_radius)
    if told["as_found_tilt_cos_mm"] is not None:
        cos_mm, sin_mm = told["as_found_tilt_cos_mm"], told["as_found_tilt_sin_mm"]
        return ToldTilt((scale * cos_mm, scale * sin_mm))
    points = told["detail__as_found"] or []
    if len(points) != 2:
        return ToldTilt()
    fit = fit_gap(
        [one["value_mm"] for one in points], position_deg=[one["position_deg"] for one in points]
    )
    if fit.component_mm is None or fit.component_axis_deg is None:
        return ToldTilt()
    return ToldTilt((scale * fit.component_mm, NAN), fit.component_axis_deg)


def _spread(told: dict[str, Any]) -> float:
    return floored_spread(
        _number(told["spread_mm"]), float(told["round__achieved_set__gauge__step_mm"])
    )


def _key(value: int | None) -> int:
    return -1 if value is None else value


def _number(value: Any) -> float:
    return NAN if value is None else float(value)


def services_after(after: datetime | None) -> list[tuple[datetime, str, int, bool]]:
    """When what was serviced, and whether its flags stayed open for the next jobs to tell, in
    order."""
    rows = ServiceEvent.objects.order_by("at", "pk")
    if after is not None:
        rows = rows.filter(at__gt=after)
    return [
        (row["at"], kind, row[column], row["tells_later"])
        for row in rows.values("at", "tells_later", *WATCHED)
        for column, kind in WATCHED.items()
        if row[column] is not None
    ]
