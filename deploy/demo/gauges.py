"""The demo shop looks at its gauges: one study of hands, and a micrometer checked on a block.

Sizes are of the same kind as the season's: a reading of a fresh piece repeats to 0.007 mm, hands
differ by 0.004 mm, and the checked micrometer drifts by 0.0003 mm a month.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from decimal import Decimal

import numpy as np

from qc.actor import Actor
from qc.models import Gauge, GaugeStudy, Repeats, Standard
from qc.operations import gauge_checks, gauge_studies, study_trials, study_use
from qc.units import mm

PLACES, TRIALS = 6, 2
NOMINAL_MM = 0.52
REPEAT_SD_MM, HAND_SD_MM = 0.007, 0.004
BLOCK_MM, CHECK_SD_MM, DRIFT_MM_A_MONTH = 0.500, 0.0006, 0.0003
MONTH = timedelta(days=30)


def study_hands(
    gauge: Gauge, crew: Sequence[Actor], *, lead: Actor, rng: np.random.Generator, at: datetime
) -> GaugeStudy:
    """Three people crush two fresh pieces each at six places of one engine; read, closed, taken."""
    study = gauge_studies.open_study(
        name=f"{gauge.name} and three hands",
        gauges=[gauge],
        people=[one.person for one in crew],
        parts=PLACES,
        trials=TRIALS,
        pieces_are="places on the bench engine",
        repeats=Repeats.FRESH,
        nominal=mm(Decimal(str(NOMINAL_MM))),
        tolerance=mm("0.10"),
        seed=int(rng.integers(2**31)),
        by=lead,
        at=at,
    )
    places = rng.normal(NOMINAL_MM, 0.03, PLACES + 1)
    leans = {one.person.pk: rng.normal(0, HAND_SD_MM) for one in crew}
    actors = {one.person.pk: one for one in crew}
    turns = study.turns.select_related("study", "person", "gauge").order_by("order")
    for number, turn in enumerate(turns, start=1):
        gap = places[turn.part] + leans[turn.person_id] + rng.normal(0, REPEAT_SD_MM)
        study_trials.record_trial(
            turn=turn,
            length=mm(Decimal(f"{gap:.3f}")),
            by=actors[turn.person_id],
            at=at + number * timedelta(minutes=3),
        )
    done = at + timedelta(hours=3)
    study = study_use.close_study(study=study, by=lead, at=done)
    study_use.take_study(study=study, why="First look at how our hands differ.", by=lead, at=done)
    return study


def register_block(*, lead: Actor, at: datetime) -> Standard:
    return gauge_checks.register_standard(
        name="Block 0.500, box 1", size=mm("0.500"), u_mm=Decimal("0.00015"), by=lead, at=at
    )


def checking(
    gauge: Gauge, block: Standard, *, by: Actor, rng: np.random.Generator, since: datetime
) -> Callable[[datetime], object]:
    """Reads the block once, a little further off the longer it is since `since`."""

    def check(when: datetime) -> object:
        off = DRIFT_MM_A_MONTH * ((when - since) / MONTH) + rng.normal(0, CHECK_SD_MM)
        return gauge_checks.record_check(
            gauge=gauge,
            standard=block,
            length=mm(Decimal(f"{BLOCK_MM + off:.3f}")),
            by=by,
            at=when,
        )

    return check
