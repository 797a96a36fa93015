"""Stored charts as they are read and stepped: what is kept of each kind, and its jobs in order.

A kind says how its jobs are read after a place in their order, and how one job changes the state.
The same steps bring a chart up to date, rebuild it and draw it, so that the three agree to the bit.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import Any, Generic, NamedTuple, Protocol, TypeVar

from django.db.models import Q

from qc.models import ChartKind, StoredChart


class Place(NamedTuple):
    """Where a result stands in the order of jobs."""

    at: datetime
    result: int

    def later(self) -> Q:
        """The results after this place."""
        return Q(measured_at__gt=self.at) | Q(measured_at=self.at, pk__gt=self.result)

    def not_later(self) -> Q:
        """The result at this place and those before it."""
        return Q(measured_at__lt=self.at) | Q(measured_at=self.at, pk__lte=self.result)


def place_of(row: Any) -> Place | None:
    """Where a stored chart, or a mark of one, stands."""
    return None if row.at is None else Place(row.at, row.result)


class HasPlace(Protocol):
    @property
    def place(self) -> Place: ...


J = TypeVar("J", bound=HasPlace)
C = TypeVar("C", covariant=True)


class Kept(Protocol, Generic[J, C]):
    """One chart of one kind. `read` opens what the steps need to know besides the jobs; `written`
    is the state as it is stored, where that differs from what `step` hands on."""

    kind: ChartKind
    key: str

    def fresh(self) -> dict[str, Any]: ...
    def read(self, after: Place | None) -> Iterator[J]: ...
    def step(self, state: dict[str, Any], job: J) -> tuple[dict[str, Any], C]: ...
    def written(self, state: dict[str, Any]) -> dict[str, Any]: ...


class WrittenAsItIs:
    """For kinds whose state is stored as it is stepped."""

    def written(self, state: dict[str, Any]) -> dict[str, Any]:
        return state


def stored(kept: Kept[Any, Any]) -> StoredChart | None:
    return StoredChart.objects.filter(kind=kept.kind, key=kept.key).first()
