"""How a gauge stands against standards: its bias, its linearity, and whether it drifts."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Literal

from django.db.models import QuerySet

from qc.errors import BadInput
from qc.models import Gauge, GaugeCheck, ServiceEvent, Standard
from qc.numerics.gauge_study import Linearity, gauge_bias, gauge_linearity
from qc.numerics.trend import TheilSen, mann_kendall, theil_sen

# Under so many checks since the last calibration a slope says little (Mann-Kendall's normal p).
FEWEST_FOR_DRIFT = 8
SURE_UNDER_P = 0.05
YEAR = timedelta(days=365.25)


@dataclass(frozen=True)
class BiasRow:
    """What a gauge reads over (positive) or under one standard, since its last calibration.

    expanded_mm: 95 %, the scatter of the mean and the standard's own uncertainty together; None
    for a single reading. is_off: the bias is larger than that.
    """

    standard: Standard
    readings: int
    bias_mm: float
    expanded_mm: float | None

    @property
    def is_off(self) -> bool:
        return self.expanded_mm is not None and abs(self.bias_mm) > self.expanded_mm


@dataclass(frozen=True)
class Drift:
    """Does it drift? `per_year_mm`, with its 95 % interval; None while it cannot be told.

    allowed_mm: what a calibration is to hold: the gauge's step, or twice its certificate's
    standard uncertainty where that is more. reaches_at: when the drift leaves that, if it goes on.
    line: the drift's two ends, as time and what the gauge reads over then, mm.
    """

    answer: Literal["thin", "coarse", "steady", "drifting"]
    checks: int
    checks_wanted: int
    p: float | None
    per_year_mm: float | None
    low_mm: float | None
    high_mm: float | None
    allowed_mm: float
    reaches_at: datetime | None
    is_interval_too_long: bool
    line: tuple[tuple[datetime, float], tuple[datetime, float]] | None = None

    @property
    def is_beyond(self) -> bool:
        """Whether the fitted line has left what is allowed already."""
        return self.line is not None and abs(self.line[1][1]) >= self.allowed_mm


@dataclass(frozen=True, eq=False)
class GaugeStanding:
    """`checks`: every one, oldest first, void ones too. The rest is since the last calibration or
    repair, `since`; None where there was none."""

    gauge: Gauge
    checks: Sequence[GaugeCheck]
    services: Sequence[ServiceEvent]
    since: datetime | None
    biases: Sequence[BiasRow]
    linearity: Linearity | None
    drift: Drift


def gauge_standing(gauge: Gauge) -> GaugeStanding:
    checks = list(checks_of(gauge).order_by("at", "pk"))
    services = list(gauge.services.select_related("by").order_by("at", "pk"))
    since = services[-1].at if services else None
    lately = [one for one in checks if one.voided_at is None and (since is None or one.at >= since)]
    return GaugeStanding(
        gauge=gauge,
        checks=checks,
        services=services,
        since=since,
        biases=_biases(lately),
        linearity=_linearity(lately),
        drift=_drift(lately, gauge),
    )


def checks_of(gauge: Gauge) -> QuerySet[GaugeCheck]:
    return GaugeCheck.objects.filter(gauge=gauge).select_related(
        "standard", "by", "voided_by", "gauge"
    )


def standards(*, in_use: bool | None = None) -> QuerySet[Standard]:
    found = Standard.objects.all()
    return found if in_use is None else found.filter(retired_at__isnull=in_use)


def _biases(checks: Sequence[GaugeCheck]) -> list[BiasRow]:
    by_standard: dict[int, list[GaugeCheck]] = defaultdict(list)
    for one in checks:
        by_standard[one.standard_id].append(one)
    rows = [_bias(found[0].standard, found) for found in by_standard.values()]
    return sorted(rows, key=lambda row: row.standard.value_mm)


def _bias(standard: Standard, checks: Sequence[GaugeCheck]) -> BiasRow:
    values = [float(one.value_mm) for one in checks]
    size = float(standard.value_mm)
    if len(values) == 1:
        return BiasRow(standard, 1, values[0] - size, None)
    found = gauge_bias(values, standard=size)
    scatter = (found.interval.high - found.interval.low) / 2
    return BiasRow(standard, len(values), found.bias, math.hypot(scatter, 2 * float(standard.u_mm)))


def _linearity(checks: Sequence[GaugeCheck]) -> Linearity | None:
    """None with fewer than three readings, or with standards of one size."""
    if len(checks) < 3:
        return None
    try:
        return gauge_linearity(
            [float(one.value_mm) for one in checks],
            standards=[float(one.standard.value_mm) for one in checks],
        )
    except BadInput:
        return None


def _drift(checks: Sequence[GaugeCheck], gauge: Gauge) -> Drift:
    """Of the standard that was read most often: others may differ by their own certificates."""
    series = _most_read(checks)
    allowed = max(float(gauge.step_mm), 2 * float(gauge.calibration_u_mm))
    wanted = max(0, FEWEST_FOR_DRIFT - len(series))

    def told(answer: Literal["thin", "coarse", "steady"], p: float | None = None) -> Drift:
        return Drift(answer, len(series), wanted, p, None, None, None, allowed, None, False)

    if wanted:
        return told("thin")
    off = [one.off_mm for one in series]
    years = [(one.at - series[0].at) / YEAR for one in series]
    test = mann_kendall(off, time=years)
    if test.p is None:
        return told("coarse")
    if test.p >= SURE_UNDER_P:
        return told("steady", test.p)
    slope = theil_sen(off, time=years)
    begins, now = (slope.intercept + slope.slope * at for at in (years[0], years[-1]))
    reaches_at = _reaches(slope, first=series[0].at, last=series[-1].at, allowed=allowed)
    return Drift(
        answer="drifting",
        checks=len(series),
        checks_wanted=0,
        p=test.p,
        per_year_mm=slope.slope,
        low_mm=slope.slope_interval.low,
        high_mm=slope.slope_interval.high,
        allowed_mm=allowed,
        reaches_at=reaches_at,
        is_interval_too_long=_comes_first(reaches_at, gauge.calibration_due),
        line=((series[0].at, begins), (series[-1].at, now)),
    )


def _most_read(checks: Sequence[GaugeCheck]) -> list[GaugeCheck]:
    by_standard: dict[int, list[GaugeCheck]] = defaultdict(list)
    for one in checks:
        by_standard[one.standard_id].append(one)
    return max(by_standard.values(), key=len, default=[])


def _reaches(
    slope: TheilSen, *, first: datetime, last: datetime, allowed: float
) -> datetime | None:
    """When the fitted line leaves -allowed to +allowed; the last check's time if it has already.

    None where it moves toward zero, or so slowly that a calendar has no day for it.
    """
    now = slope.intercept + slope.slope * ((last - first) / YEAR)
    if abs(now) >= allowed:
        return last
    edge = math.copysign(allowed, slope.slope)
    years = (edge - slope.intercept) / slope.slope if slope.slope else math.inf
    return first + years * YEAR if years < 100 else None


def _comes_first(reaches_at: datetime | None, due: date | None) -> bool:
    return reaches_at is not None and (due is None or reaches_at.date() < due)
