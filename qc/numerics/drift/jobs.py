"""What the drift sums are told: one row a measured round in cutting order, and what was done to
resources between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike

from qc.errors import BadInput, NotFinite
from qc.numerics.results import FloatArray, IntArray

WHOLE = ("fixture", "operator", "lathe", "edge", "gauge_found", "gauge_achieved", "found_fixture")
VECTORS = ("tilt_found_mm", "tilt_achieved_mm")
NUMBERS = (
    "clocking_deg",
    "found_axis_deg",
    "achieved_axis_deg",
    "height_error_mm",
    "spread_mm",
    "found_clocking_deg",
)


@dataclass(frozen=True, eq=False)
class Jobs:
    """n rounds in the order they were measured. Ids are any whole numbers >= 0; -1 is unknown.

    fixture, operator, lathe, edge, gauge_found, gauge_achieved (n,): what the round was made and
        read with. edge is one edge in one slot. gauge_found -1: not known to be the same gauge.
    clocking_deg (n,): where the fixture's index mark stood on the engine's clock, NaN unknown.
    tilt_found_mm, tilt_achieved_mm (n, 2): side-to-side difference toward engine 0 and 90 degrees,
        (2A, 2B), as measured; NaN unknown, in one place where only one pair was read.
    found_axis_deg, achieved_axis_deg (n,): where only an odd pair was read, the engine direction
        of the difference in the vector's first place; NaN otherwise.
    radius_mm (n,): of the circle the positions lie on.
    height_error_mm (n,): achieved less predicted height, NaN unknown.
    edge_jobs (n,): jobs the edge had done, for its usual wear.
    spread_mm, spread_df (n,): standard deviation within positions and its degrees of freedom.
    found_fixture, found_clocking_deg (n,): of a second or later round, what cut the face that was
        found; -1 and NaN for a face cut elsewhere.
    """

    fixture: IntArray
    operator: IntArray
    lathe: IntArray
    edge: IntArray
    gauge_found: IntArray
    gauge_achieved: IntArray
    clocking_deg: FloatArray
    tilt_found_mm: FloatArray
    tilt_achieved_mm: FloatArray
    found_axis_deg: FloatArray
    achieved_axis_deg: FloatArray
    radius_mm: FloatArray
    height_error_mm: FloatArray
    edge_jobs: FloatArray
    spread_mm: FloatArray
    spread_df: IntArray
    found_fixture: IntArray
    found_clocking_deg: FloatArray

    def __len__(self) -> int:
        return int(self.fixture.size)

    def of(self, rows: slice | IntArray) -> Jobs:
        """Some of the jobs, in the order asked for."""
        return Jobs(**{name: getattr(self, name)[rows] for name in Jobs.__dataclass_fields__})


@dataclass(frozen=True)
class Event:
    """before_job: it happened before this row (len(jobs): after all). serviced: set right, so that
    nothing known of its bias holds. checked: looked at and found in order. channel: the only one
    it is about; None is all of them."""

    before_job: int
    kind: str
    resource: int
    what: Literal["serviced", "checked"] = "serviced"
    channel: str | None = None


def jobs(n: int, **given: ArrayLike) -> Jobs:
    """Rows from whichever of Jobs's fields are known; the rest are unknown.

    Raises BadInput for a field of another length or an id below -1, NotFinite for an infinity.
    """
    fields: dict[str, Any] = {
        **{name: np.full(n, -1, dtype=np.int64) for name in WHOLE},
        **{name: np.full((n, 2), np.nan) for name in VECTORS},
        **{name: np.full(n, np.nan) for name in NUMBERS},
        "radius_mm": np.full(n, 20.0),
        "edge_jobs": np.zeros(n),
        "spread_df": np.zeros(n, dtype=np.int64),
    }
    for name, values in given.items():
        if name not in fields:
            raise BadInput(why=f"A job has no {name}; it has {', '.join(fields)}.")
        array = np.asarray(values, dtype=fields[name].dtype)
        if array.shape != fields[name].shape:
            raise BadInput(
                why=f"{name} is of shape {array.shape}; {n} jobs need {fields[name].shape}."
            )
        if np.isinf(array).any():
            raise NotFinite(what=name, got=float("inf"))
        fields[name] = array
    for name in WHOLE:
        if (fields[name] < -1).any():
            raise BadInput(why=f"{name} holds an id below -1; -1 means unknown.")
    radius = fields["radius_mm"]
    if not (radius > 0).all():
        raise BadInput(why="radius_mm must be more than 0 for every job.")
    return Jobs(**fields)


def in_order(events: Sequence[Event]) -> list[Event]:
    """By the job they precede; those before one job keep the order they are given in."""
    return sorted(events, key=lambda event: event.before_job)
