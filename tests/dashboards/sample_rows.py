"""Rows for the drawings: an invented shop's few jobs, with numbers a reader can follow."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from dashboards.figures.rows import (
    AccuracyOverMonths,
    Band,
    ChartPoint,
    ChartStretch,
    CheckPoint,
    DialReading,
    DialSweep,
    FindingCurve,
    FlagTick,
    GapRoundBore,
    GapSet,
    GapWave,
    GaugeChecks,
    IndividualsChart,
    JobMiss,
    Lane,
    LaneLimits,
    LanePoint,
    LevelSpan,
    MonthMean,
    MonthTally,
    PortOpening,
    ServiceTick,
    ShiftMark,
    SpreadOverTime,
    StudyDot,
    StudyDots,
    TiltClock,
    TiltEstimate,
    TiltStroke,
    TimeLanes,
)

START = datetime(2026, 3, 2, 9, 30)
WEEK = timedelta(days=7)

# 0.520/0.555/0.580/0.549 at the quarters: height 0.551, A -0.030, B 0.003 (trade reference, A).
ACHIEVED = GapSet(
    readings=((0, 0.520), (90, 0.555), (180, 0.580), (270, 0.549)),
    height_mm=0.551,
    tightest_mm=0.520,
    wave=GapWave(0.551, -0.030, 0.003),
    side_to_side_mm=0.0603,
    wide_deg=174.3,
)
AS_FOUND = GapSet(
    readings=((0, 1.000), (90, 1.040), (180, 1.060), (270, 1.020)),
    height_mm=1.030,
    tightest_mm=0.998,
    wave=GapWave(1.030, -0.030, 0.010),
    side_to_side_mm=0.0632,
    wide_deg=161.6,
)
GAP = GapRoundBore(
    as_found=AS_FOUND,
    predicted=None,
    achieved=ACHIEVED,
    target_mm=0.550,
    tolerance=Band(0.520, 0.580),
    floor_mm=0.470,
)

STROKES = tuple(
    TiltStroke(f"J-{100 + n}", START + n * WEEK, 0.010 + 0.002 * n, (137 * n) % 360.0)
    for n in range(30)
)
TILT = TiltClock(STROKES, TiltEstimate(-0.050, 0.042, 9e-5, 4e-5, 2e-5), allowed_mm=0.060)

POINTS = tuple(
    LanePoint(
        START + n * WEEK, f"J-{n}", 0.001 * n - 0.004, "beyond the upper limit" if n == 9 else None
    )
    for n in range(10)
)
LANES = TimeLanes(
    lanes=(
        Lane(
            "Height error",
            POINTS,
            is_signed=True,
            tolerance=Band(-0.030, 0.030),
            stretches=(LaneLimits(START, START + 9 * WEEK, Band(-0.020, 0.020)),),
            running=tuple((point.at, point.value / 2) for point in POINTS),
        ),
        Lane("Tilt statistic", tuple(LanePoint(p.at, p.job, 2.5) for p in POINTS), is_length=False),
    ),
    services=(
        ServiceTick(START + 2 * WEEK, "re-indicated"),
        ServiceTick(START + 2 * WEEK + timedelta(hours=5), "jaws dressed"),
        ServiceTick(START + 7 * WEEK, "edge changed"),
    ),
)

ACCURACY = AccuracyOverMonths(
    misses=tuple(JobMiss(START + n * WEEK, f"J-{n}", 0.005 - 0.002 * n) for n in range(8)),
    months=(
        MonthMean(date(2026, 3, 1), 5, 0.001, Band(-0.004, 0.006), 1.0),
        MonthMean(date(2026, 4, 1), 3, -0.007, Band(-0.012, -0.002), 0.667),
    ),
    tolerance=Band(-0.030, 0.030),
    levels=(
        LevelSpan(START, START + 3 * WEEK, 4, 0.003),
        LevelSpan(START + 4 * WEEK, START + 7 * WEEK, 4, -0.006),
    ),
    shifts=(ShiftMark(START + 4 * WEEK, START + 3 * WEEK, START + 6 * WEEK, -0.009, "tighter"),),
    tallies=(
        MonthTally(date(2026, 4, 1), 2, 1, 0, 2, 40, 1, 1),
        MonthTally(date(2026, 5, 1), 0, 0, 0, 1, 25, 0, 0),
    ),
    services=(
        ServiceTick(START + 2 * WEEK, "Plug A re-indicated"),
        ServiceTick(START + 9 * WEEK, "Plug B re-indicated"),
    ),
    flags=(FlagTick(START + 6 * WEEK, "Plug A seems to have moved (cause found)"),),
)

SPREAD = SpreadOverTime(
    points=tuple((START + n * WEEK, f"J-{n}", 0.004 + 0.001 * (n % 3)) for n in range(8)),
    levels=(LevelSpan(START, START + 7 * WEEK, 8, 0.005),),
)

FINDING = (
    FindingCurve("Single jobs", tuple(1 - 0.9**n for n in range(21))),
    FindingCurve("Cumulative sums", tuple(1 - 0.7**n for n in range(21))),
)

CHART = IndividualsChart(
    quantity="Target error",
    points=tuple(
        ChartPoint(
            number=n,
            at=START + n * WEEK,
            job=f"J-{n}",
            value_mm=0.002 * (n % 4) - 0.003,
            average_mm=0.0005 * n,
            average_limits=Band(-0.009, 0.009),
            average_signal="average beyond its limit" if n == 12 else None,
        )
        for n in range(1, 13)
    ),
    stretches=(ChartStretch(1, 12, 0.0, Band(-0.026, 0.027)),),
)

# Alder 46 as found and after 0.52 mm off the base (trade reference, G).
PORTS = (
    PortOpening("exhaust", 102.85, 257.15, 104.95, 255.05),
    PortOpening("transfer", 121.4, 238.6, 124.05, 235.95),
    PortOpening("intake", 286.95, 73.05, 285.1, 74.9),
)

# An offset of 0.0127 mm toward 90 degrees, read without form error.
DIAL = DialSweep(
    readings=(
        DialReading(0, 0.010),
        DialReading(90, 0.0227),
        DialReading(180, 0.010),
        DialReading(270, -0.0027),
    ),
    mean_mm=0.010,
    cos_mm=0.0,
    sin_mm=0.0127,
    tap_at_deg=90.0,
    tap_mm=0.0127,
    allowed_mm=0.0127,
)

# Two pieces, two people, two trials: Ann reads 0.002 over the mean, Bo as much under.
STUDY = StudyDots(
    hands=("Ann", "Bo"),
    leans_mm=(0.002, -0.002),
    dots=tuple(
        StudyDot(piece, hand, trial, 0.5 + piece / 100 + off, off)
        for piece in (1, 2)
        for hand, lean in ((0, 0.002), (1, -0.002))
        for trial, off in ((1, lean + 0.001), (2, lean - 0.001))
    ),
    holds_mm=0.006,
)
CHECKS = GaugeChecks(
    points=tuple(
        CheckPoint(START + n * WEEK, "Block 0.5", 0.5 + n / 1000, n / 1000) for n in range(6)
    ),
    services=(ServiceTick(START - WEEK, "calibrated"),),
    allowed_mm=0.010,
    line=((START, 0.0), (START + 5 * WEEK, 0.005)),
)
