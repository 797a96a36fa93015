"""A lane of a chart page: what every way of looking at the same jobs is made of."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from qc.lookups.charts.kept_errors import ErrorPoint
from qc.lookups.record.channels import JobPoint

Span = tuple[float | None, float | None]
Values = Sequence[float | None]
NO_SPAN: Span = (None, None)
THIN = "Baseline still thin: nothing is judged yet."


@dataclass(frozen=True)
class ChartJobRow:
    """A job on the page: its point, the gaps less target at its positions (mm), and what the stored
    chart made of it."""

    point: JobPoint
    value_mm: float
    positions_mm: tuple[float, ...]
    told: ErrorPoint


@dataclass(frozen=True)
class ChartLane:
    """One lane: an entry a job; None where a job has none. limits and centre: what each job was
    held against; said: the rule that fired, in words, or empty. is_line: joined to a line."""

    name: str
    values: Values
    limits: Sequence[Span]
    said: Sequence[str]
    centre: Values = ()
    is_length: bool = True
    is_signed: bool = True
    is_line: bool = False
    line_name: str = "average"
    band: Span | None = None


@dataclass(frozen=True)
class Lanes:
    """rows: the jobs the lanes' entries belong to. note: why there is nothing to judge by, or what
    to know of this way of looking."""

    rows: Sequence[ChartJobRow]
    lanes: Sequence[ChartLane]
    note: str = ""


def begins(rows: Sequence[ChartJobRow]) -> list[bool]:
    return [one.told.begins for one in rows]


def outside(value: float | None, span: Span, words: str) -> str:
    if value is None:
        return ""
    low, high = span
    is_out = (low is not None and value < low) or (high is not None and value > high)
    return words if is_out else ""
