"""What the drawings are made from: plain finished rows, filled by lookups and views.

Lengths are millimetres and directions are degrees on the clock that the row names; a drawing turns
them into the viewer's unit. Directions run clockwise seen from the head end. Every `at` is in the
shop's zone already. Nothing here computes a result: what is not measured or learnt is None.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime


@dataclass(frozen=True)
class Band:
    """Two bounds; None where there is no bound on that side."""

    low: float | None
    high: float | None


@dataclass(frozen=True)
class GapWave:
    """Gap round the bore on the engine's clock: height + cos_mm cos(deg) + sin_mm sin(deg)."""

    height_mm: float
    cos_mm: float
    sin_mm: float


@dataclass(frozen=True)
class GapSet:
    """One set of gaps. `readings` are (clock degrees, position value); `wave` needs a vector."""

    readings: tuple[tuple[float, float], ...]
    height_mm: float | None
    tightest_mm: float | None = None
    wave: GapWave | None = None
    side_to_side_mm: float | None = None
    wide_deg: float | None = None


@dataclass(frozen=True)
class GapRoundBore:
    """Gaps before and after one round. `tolerance` holds gaps, not distances from the target."""

    as_found: GapSet | None
    predicted: GapSet | None
    achieved: GapSet | None
    target_mm: float | None
    tolerance: Band
    floor_mm: float | None


@dataclass(frozen=True)
class TiltStroke:
    """One job's tilt on the fixture's clock: side-to-side difference, and where it is widest."""

    job: str
    at: datetime
    side_to_side_mm: float
    wide_deg: float


@dataclass(frozen=True)
class TiltEstimate:
    """Where the fixture's tilt is believed to lie.

    cos_mm, sin_mm: the side-to-side difference as a vector, toward 0 and toward 90 degrees.
    The covariance is of that vector, mm squared. `coverage` is the share the ellipse shall hold.
    """

    cos_mm: float
    sin_mm: float
    cos_variance: float
    sin_variance: float
    covariance: float
    coverage: float = 0.95


@dataclass(frozen=True)
class TiltClock:
    """A fixture's tilts, oldest first, the estimate, and the allowed side-to-side difference."""

    strokes: tuple[TiltStroke, ...]
    estimate: TiltEstimate | None
    allowed_mm: float


@dataclass(frozen=True)
class LanePoint:
    """One job in a lane. `signal` is the chart rule that fired, in words."""

    at: datetime
    job: str
    value: float
    signal: str | None = None


@dataclass(frozen=True)
class LaneLimits:
    """Chart limits that held from one time to another."""

    since: datetime
    until: datetime
    limits: Band


@dataclass(frozen=True)
class Lane:
    """One channel in the strip. A lane of lengths holds mm; any other holds a plain statistic.

    mark_name: what a point's `signal` is, a chart's signal or a flag.
    """

    name: str
    points: tuple[LanePoint, ...]
    is_length: bool = True
    is_signed: bool = False
    tolerance: Band | None = None
    stretches: tuple[LaneLimits, ...] = ()
    running: tuple[tuple[datetime, float], ...] = ()
    running_name: str = "average"
    mark_name: str = "signal"


@dataclass(frozen=True)
class ServiceTick:
    """A service event: what was done, in a word or two."""

    at: datetime
    name: str


@dataclass(frozen=True)
class TimeLanes:
    """Lanes that share one time axis, and the service events that cross them all."""

    lanes: tuple[Lane, ...]
    services: tuple[ServiceTick, ...] = ()


@dataclass(frozen=True)
class JobMiss:
    """Achieved minus target of one job; positive means the gap came out wider than asked."""

    at: datetime
    job: str
    target_error_mm: float


@dataclass(frozen=True)
class MonthMean:
    """One month: jobs measured, their mean target error with its interval, the share inside."""

    month: date
    jobs: int
    mean_mm: float
    interval: Band
    share_inside: float


@dataclass(frozen=True)
class LevelSpan:
    """Jobs that kept to one level, from the first to the last of them."""

    since: datetime
    until: datetime
    jobs: int
    mean_mm: float


@dataclass(frozen=True)
class ShiftMark:
    """The level changed about `at`, at 95 % between earliest and latest; toward: which way, in a
    word."""

    at: datetime
    earliest: datetime | None
    latest: datetime | None
    step_mm: float
    toward: str


@dataclass(frozen=True)
class MonthTally:
    """Flags raised in one month and what came of them; services with the minutes they took; jobs
    that missed, and how many of these used what a flag suspected that stood open then."""

    month: date
    raised: int
    cause_found: int
    none_found: int
    services: int
    minutes: int
    misses: int
    on_flagged: int


@dataclass(frozen=True)
class FlagTick:
    """A flag where it was raised, in a few words."""

    at: datetime
    says: str


@dataclass(frozen=True)
class AccuracyOverMonths:
    """Single jobs and months; `tolerance` is about the target, so it spans zero. Levels and shifts
    may begin before the months that are drawn. tallies: of months in which there was something."""

    misses: tuple[JobMiss, ...]
    months: tuple[MonthMean, ...]
    tolerance: Band
    levels: tuple[LevelSpan, ...] = ()
    shifts: tuple[ShiftMark, ...] = ()
    tallies: tuple[MonthTally, ...] = ()
    services: tuple[ServiceTick, ...] = ()
    flags: tuple[FlagTick, ...] = ()


@dataclass(frozen=True)
class SpreadOverTime:
    """Each job's time, name and spread in mm, and the levels found in them."""

    points: tuple[tuple[datetime, str, float], ...]
    levels: tuple[LevelSpan, ...] = ()
    shifts: tuple[ShiftMark, ...] = ()


@dataclass(frozen=True)
class FindingCurve:
    """One chart: its name and the chance to have found the shift within 0, 1, 2, ... jobs."""

    chart: str
    found: tuple[float, ...]


@dataclass(frozen=True)
class ChartPoint:
    """One job on an individuals chart, numbered in cutting order from 1.

    `signal` and `average_signal` are the rules that fired on the job and on the average, in words.
    """

    number: int
    at: datetime
    job: str
    value_mm: float
    average_mm: float | None
    average_limits: Band | None
    signal: str | None = None
    average_signal: str | None = None


@dataclass(frozen=True)
class ChartStretch:
    """Frozen limits for the jobs numbered first to last."""

    first: int
    last: int
    centre_mm: float
    limits: Band


@dataclass(frozen=True)
class IndividualsChart:
    """`quantity` names the value charted; `note` says why there are no limits yet."""

    quantity: str
    points: tuple[ChartPoint, ...]
    stretches: tuple[ChartStretch, ...] = ()
    note: str | None = None


@dataclass(frozen=True)
class PortOpening:
    """One port's open arc, crank degrees after top dead centre, before the cut and after it.

    An arc runs from opens to closes with the crank; an intake that opens before top dead centre
    has opens_deg above 180 and closes_deg below it.
    """

    port: str
    opens_before_deg: float
    closes_before_deg: float
    opens_after_deg: float
    closes_after_deg: float


@dataclass(frozen=True)
class DialReading:
    """One dial reading; `deg` on the fixture's clock, positive where the dial is pushed in."""

    deg: float
    value_mm: float


@dataclass(frozen=True)
class DialSweep:
    """One turn of the dial and the offset circle fitted to it.

    mean_mm + cos_mm cos(deg) + sin_mm sin(deg) is the fit; the part is moved from tap_at_deg by
    tap_mm toward the far side. `allowed_mm` is the accept limit on total runout.
    """

    readings: tuple[DialReading, ...]
    mean_mm: float
    cos_mm: float
    sin_mm: float
    tap_at_deg: float
    tap_mm: float
    allowed_mm: float | None = None


@dataclass(frozen=True)
class StudyDot:
    """One reading of a gauge study. `hand`: its place in StudyDots.hands. off_mm: from the mean
    of all readings of its piece."""

    piece: int
    hand: int
    trial: int
    value_mm: float
    off_mm: float


@dataclass(frozen=True)
class StudyDots:
    """`leans_mm`: of each hand, from the mean of all; `holds_mm`: 95 of 100 readings lie within it
    on either side of their piece's true size, None where the study showed nothing."""

    hands: tuple[str, ...]
    leans_mm: tuple[float, ...]
    dots: tuple[StudyDot, ...]
    holds_mm: float | None


@dataclass(frozen=True)
class CheckPoint:
    """A gauge's reading of a standard; off_mm positive where it reads over."""

    at: datetime
    standard: str
    value_mm: float
    off_mm: float


@dataclass(frozen=True)
class GaugeChecks:
    """`allowed_mm`: what a calibration is to hold, either way. `line`: the drift's two ends."""

    points: tuple[CheckPoint, ...]
    services: tuple[ServiceTick, ...]
    allowed_mm: float
    line: tuple[tuple[datetime, float], tuple[datetime, float]] | None
