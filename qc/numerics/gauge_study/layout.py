"""Who read which part how often: the table every analysis of a gauge study starts from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from qc.errors import BadInput, TooFewReadings
from qc.numerics.checks import require_same_length
from qc.numerics.results import FloatArray, IntArray
from qc.numerics.series import require_series


@dataclass(frozen=True, eq=False)
class GaugeReadings:
    """One row a reading, shapes (n,): value, and the number of its part and of its operator, each
    from 0 up without a gap. Rows may come in any order, cells may differ in size or be empty."""

    value: FloatArray
    part: IntArray
    operator: IntArray

    @property
    def parts(self) -> int:
        return int(self.part.max()) + 1

    @property
    def operators(self) -> int:
        return int(self.operator.max()) + 1

    @property
    def cell(self) -> IntArray:
        """Number of the part-by-operator cell, from 0 up over the cells that hold readings."""
        return _numbered(self.part * self.operators + self.operator)

    @property
    def trials(self) -> int | None:
        """Readings in each cell if every part was read equally often by every operator."""
        counts = np.bincount(self.part * self.operators + self.operator)
        full = counts.size == self.parts * self.operators
        return int(counts[0]) if full and (counts == counts[0]).all() else None


def gauge_readings(value: ArrayLike, *, part: ArrayLike, operator: ArrayLike) -> GaugeReadings:
    """A study from columns: readings, and who read what.

    value: shape (n,), any unit. part, operator: shape (n,), names or numbers; the order of first
    sorting numbers them. Two parts and two operators at least, who share parts with one another,
    and more readings than parts and operators together.
    Raises BadInput, TooFewReadings, NotFinite.
    """
    readings = require_series(value)
    require_same_length(readings=readings, parts=part, operators=operator)
    table = GaugeReadings(readings, _numbered(np.asarray(part)), _numbered(np.asarray(operator)))
    if table.parts < 2 or table.operators < 2:
        raise BadInput(why="A gauge study needs two parts or more, read by two operators or more.")
    needed = table.parts + table.operators
    if readings.size < needed:
        raise TooFewReadings(needed=needed, got=readings.size)
    if not _all_linked(table):
        raise BadInput(why="Some operators share no part with others: let them read one in common.")
    return table


def gauge_grid(y: ArrayLike) -> GaugeReadings:
    """A study from a full grid y[part][operator][trial]. Raises as gauge_readings."""
    try:
        grid = np.asarray(y, dtype=np.float64)
    except (TypeError, ValueError):
        raise BadInput(why="A grid holds equally many trials in every cell.") from None
    if grid.ndim != 3:
        raise BadInput(why=f"A grid is part by operator by trial; got shape {grid.shape}.")
    part, operator, _ = np.indices(grid.shape)
    return gauge_readings(grid.ravel(), part=part.ravel(), operator=operator.ravel())


def _numbered(names: np.ndarray) -> IntArray:
    return np.asarray(np.unique(names, return_inverse=True)[1], dtype=np.int64).ravel()


def _all_linked(table: GaugeReadings) -> bool:
    """Whether every part can be compared with every other through operators they share."""
    reached = {int(table.part[0])}
    while True:
        hands = np.isin(table.operator, table.operator[np.isin(table.part, list(reached))])
        further = set(table.part[hands].tolist())
        if further == reached:
            return len(reached) == table.parts
        reached = further
