"""Analysis of variance of a gauge study, balanced or not, with expected mean squares.

Sums of squares by fitting constants: part and operator each after the other, interaction after
both, repeatability within cells (Henderson's method 3, Biometrics 1953). In a balanced study these
are the textbook ones (Burdick, Borror & Montgomery, Journal of Quality Technology 2003).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import fdtrc

from qc.errors import BadInput
from qc.numerics.gauge_study.layout import GaugeReadings
from qc.numerics.results import FloatArray, IntArray

SOURCES = ("part", "operator", "interaction", "repeatability")


@dataclass(frozen=True, eq=False)
class AnovaTable:
    """Entries in the order of `sources`; without the interaction it is pooled into repeatability.

    expected[i, j]: what one unit of variance of source j adds to mean square i.
    """

    sources: tuple[str, ...]
    ss: FloatArray
    df: IntArray
    expected: FloatArray
    ss_total: float

    @property
    def ms(self) -> FloatArray:
        return self.ss / self.df

    @property
    def components(self) -> FloatArray:
        """Variances that make the mean squares what they are expected to be; may be negative."""
        return np.asarray(np.linalg.solve(self.expected, self.ms))

    def f(self, source: str, against: str) -> tuple[float | None, float | None]:
        """Ratio of two mean squares and its p-value, None over a mean square of zero."""
        top, bottom = self.sources.index(source), self.sources.index(against)
        if self.ss[bottom] <= 0:
            return None, None
        ratio = float(self.ms[top] / self.ms[bottom])
        return ratio, float(fdtrc(self.df[top], self.df[bottom], ratio))


def anova_table(readings: GaugeReadings, *, interaction: bool = True) -> AnovaTable:
    """The table, with the interaction of its own or pooled into repeatability.

    Raises BadInput when a source has no degrees of freedom: with one trial a cell the interaction
    cannot be told from repeatability, so ask for interaction=False.
    """
    # From the first reading, so that large readings keep the digits in which they differ.
    y = readings.value - readings.value[0]
    part, operator = _dummies(readings.part), _dummies(readings.operator)
    cell = _dummies(readings.cell)
    ones = np.ones((y.size, 1))
    both = _Span(np.hstack([ones, part, operator]))
    cells = _Span(cell) if interaction else both
    levels = [(both, _Span(operator)), (both, _Span(part)), (cells, both), (None, cells)]
    designs = [part, operator, cell, np.eye(y.size)]
    kept = [0, 1, 2, 3] if interaction else [0, 1, 3]
    ss = np.empty(len(kept))
    df = np.empty(len(kept), dtype=np.int64)
    expected = np.zeros((len(kept), len(kept)))
    for row, i in enumerate(kept):
        larger, smaller = levels[i]
        ss[row] = _between(larger, smaller, y[:, None])
        df[row] = (larger.rank if larger else y.size) - smaller.rank
        if df[row] < 1:
            raise BadInput(why=_no_freedom(SOURCES[i]))
        for column, j in enumerate(kept):
            expected[row, column] = _between(larger, smaller, designs[j]) / df[row]
    return AnovaTable(
        sources=tuple(SOURCES[i] for i in kept),
        ss=np.maximum(ss, 0.0),
        df=df,
        expected=expected,
        ss_total=_between(None, _Span(ones), y[:, None]),
    )


class _Span:
    """The column space of a design, for how much of other columns lies in it."""

    def __init__(self, design: FloatArray) -> None:
        u, s, _ = np.linalg.svd(design, full_matrices=False)
        self.basis = u[:, s > 1e-9 * s[0]]
        self.rank = self.basis.shape[1]


def _between(larger: _Span | None, smaller: _Span, columns: FloatArray) -> float:
    """Squared length of the columns inside `larger` (None: everything) but outside `smaller`."""
    off = columns - smaller.basis @ (smaller.basis.T @ columns)
    if larger is not None:
        off = larger.basis @ (larger.basis.T @ off)
    return float((off**2).sum())


def _dummies(number: IntArray) -> FloatArray:
    return np.eye(int(number.max()) + 1)[number]


def _no_freedom(source: str) -> str:
    if source in ("interaction", "repeatability"):
        return (
            "With one trial a cell, or one cell an operator, the interaction cannot be told from "
            "repeatability: pool it, or read every part twice."
        )
    return f"These readings leave nothing to judge the {source} by."
