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
# Lengths that come out as none of an engine's do, but for a slip.
LENGTHS = (*VECTORS, "height_error_mm", "spread_mm")
MOST_MM, FEWEST_TO_DOUBT = 2.0, 5


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
    edge_jobs (n,): jobs the edge had done since it was fitted, for its usual wear; 0 unknown. A
        fresh one has an id of its own, or keeps that of the one before with an event, serviced.
    spread_mm, spread_df (n,): standard deviation within positions and its degrees of freedom; NaN
        and 0 unknown.
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


What = Literal["serviced", "checked", "mended", "ruled_out", "closed", "renewed"]


@dataclass(frozen=True)
class Event:
    """before_job: it happened before this row (len(jobs): after all). channel: the only one it is
    about; None is all of them.

    what: "serviced" is set right, so that nothing known of its bias holds; "checked" is looked at
    and found in order. Either ends the open flags about it. "mended" is serviced after it was found
    to have moved: it ends the open flags that suspect it. "ruled_out" is checked, ending none, and
    no service of it ends a flag about it from then on: the others are in question. "closed" ends
    the open flags about it with their stories as they are believed, and does nothing to it.
    "renewed" is serviced, ending none: what open flags hold against it goes on being weighed as
    what it was until then, so that the next jobs say whether it was the one.
    """

    before_job: int
    kind: str
    resource: int
    what: What = "serviced"
    channel: str | None = None


def jobs(n: int, **given: ArrayLike) -> Jobs:
    """Rows from whichever of Jobs's fields are known; the rest are unknown.

    Raises BadInput for a field of another length, an id that is no whole number or below -1, a
    radius or spread not above 0, edge_jobs below 0 or unknown, or lengths that are mostly above
    2 mm; NotFinite for an infinity.
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
        array = _whole(name, values) if name in (*WHOLE, "spread_df") else _real(name, values)
        if array.shape != fields[name].shape:
            raise BadInput(
                why=f"{name} is of shape {array.shape}; {n} jobs need {fields[name].shape}."
            )
        fields[name] = array
    for name in WHOLE:
        if (fields[name] < -1).any():
            raise BadInput(why=f"{name} holds an id below -1; -1 means unknown.")
    for name in LENGTHS:
        known = np.abs(fields[name][np.isfinite(fields[name])])
        if known.size >= FEWEST_TO_DOUBT and np.median(known) > MOST_MM:
            raise BadInput(
                why=f"{name} is mostly above {MOST_MM} mm: lengths are in mm, not in um or thou."
            )
    if not (fields["radius_mm"] > 0).all():
        raise BadInput(why="radius_mm must be more than 0 for every job.")
    if not (fields["edge_jobs"] >= 0).all():
        raise BadInput(why="edge_jobs must be 0 or more for every job; 0 where it is not known.")
    if (fields["spread_mm"] <= 0).any() or (fields["spread_df"] < 0).any():
        raise BadInput(
            why="spread_mm must be above 0 and spread_df 0 or more; NaN and 0 where not known."
        )
    return Jobs(**fields)


def _real(name: str, values: ArrayLike) -> FloatArray:
    try:
        array = np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError):
        raise BadInput(why=f"{name} holds something that is no number.") from None
    if np.isinf(array).any():
        raise NotFinite(what=name, got=float("inf"))
    return array


def _whole(name: str, values: ArrayLike) -> IntArray:
    array = _real(name, values)
    if not (array == np.floor(array)).all():
        raise BadInput(why=f"{name} must be whole numbers; -1 where an id is not known.")
    exact: IntArray = np.asarray(values).astype(np.int64)
    return exact


def in_order(events: Sequence[Event]) -> list[Event]:
    """By the job they precede; those before one job keep the order they are given in."""
    return sorted(events, key=lambda event: event.before_job)
