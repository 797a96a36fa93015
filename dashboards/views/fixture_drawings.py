"""A fixture's page as rows of its drawings: the clock of its tilts, and its lanes through time."""

from __future__ import annotations

from collections.abc import Callable

from django.utils.timezone import localtime

from dashboards.figures.rows import (
    Band,
    Lane,
    LaneLimits,
    LanePoint,
    ServiceTick,
    TiltClock,
    TiltEstimate,
    TiltStroke,
    TimeLanes,
)
from qc.lookups.pages.fixture_page import FixtureJob, FixturePage

CHART_SIGNAL = "the tilt chart is past its limit"


def clock_rows(page: FixturePage) -> TiltClock:
    """A stroke for each job shown since the fixture was last put right: older ones tell of other
    days."""
    found = page.estimate
    return TiltClock(
        strokes=tuple(
            TiltStroke(one.label, localtime(one.at), one.side_to_side_mm, one.wide_deg)
            for one in page.current
            if one.side_to_side_mm is not None and one.wide_deg is not None
        ),
        estimate=None
        if found is None
        else TiltEstimate(
            cos_mm=found.cos_mm,
            sin_mm=found.sin_mm,
            cos_variance=found.variance_mm2,
            sin_variance=found.variance_mm2,
            covariance=0.0,
        ),
        allowed_mm=page.allowed_mm,
    )


def lane_rows(page: FixturePage) -> TimeLanes:
    """Every job shown, and what was done since the first of them where there were others before. A
    lane that no job has a value for is left out."""
    height = _points(page, lambda one: one.height_error_mm, lambda one: one.height_signal)
    tilt = _points(page, lambda one: one.side_to_side_mm, lambda one: "")
    chart = _points(
        page, lambda one: one.distance, lambda one: CHART_SIGNAL if one.is_signal else ""
    )
    spread = _points(page, lambda one: one.spread_mm, lambda one: "")
    lanes = (
        Lane("Height error", height, is_signed=True),
        Lane("Side to side at 20 mm radius", tilt, tolerance=Band(0.0, page.allowed_mm)),
        Lane("Tilt chart, standard deviations", chart, is_length=False, stretches=_limits(page)),
        Lane("Spread of repeats", spread),
    )
    return TimeLanes(
        lanes=tuple(one for one in lanes if one.points),
        services=tuple(
            ServiceTick(localtime(one.at), one.get_kind_display())
            for one in page.services
            if not page.jobs_before or one.at >= page.jobs[0].at
        ),
    )


def _points(
    page: FixturePage,
    value: Callable[[FixtureJob], float | None],
    signal: Callable[[FixtureJob], str],
) -> tuple[LanePoint, ...]:
    found = ((one, value(one)) for one in page.jobs)
    return tuple(
        LanePoint(localtime(one.at), one.label, number, signal(one) or None)
        for one, number in found
        if number is not None
    )


def _limits(page: FixturePage) -> tuple[LaneLimits, ...]:
    charted = page.charted
    if not charted:
        return ()
    since, until = localtime(charted[0].at), localtime(charted[-1].at)
    return (LaneLimits(since, until, Band(None, page.limit_distance)),)
