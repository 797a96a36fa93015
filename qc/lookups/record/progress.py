"""Where a job stands: its steps in order, which are behind it, and the one to do next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

from qc.lookups.record.jobs import JobRecord, RoundRecord
from qc.models import BEFORE_CUT, CLOSED, Job, Pass, Round, SkippedStep, State, Step


class BenchStep(StrEnum):
    """A page of the bench; more than Step, which names what may be skipped."""

    AS_FOUND = "as_found"
    PLAN = "plan"
    SET_UP = "set_up"
    INDICATE = "indicate"
    TOUCH_OFF = "touch_off"
    PASSES = "passes"
    ACHIEVED = "achieved"
    VERDICT = "verdict"


class Cutting(StrEnum):
    """How far the newest round's cut is: what of it can still be put off, or only be judged."""

    AHEAD = "ahead"
    BEGUN = "begun"
    OVER = "over"
    JUDGED = "judged"


class Standing(StrEnum):
    DONE = "done"
    SKIPPED = "skipped"
    NEXT = "next"
    LATER = "later"
    NOT_DONE = "not done"


SKIPS: dict[BenchStep, Step] = {
    BenchStep.AS_FOUND: Step.AS_FOUND,
    BenchStep.PLAN: Step.PLAN,
    BenchStep.SET_UP: Step.SET_UP,
    BenchStep.INDICATE: Step.INDICATING,
    BenchStep.TOUCH_OFF: Step.PASSES,
    BenchStep.PASSES: Step.PASSES,
}
# Where a plan that is left behind has to be worked out again.
PLAN_COUNTS = (State.PLANNED, State.SET_UP)
TAKES: dict[BenchStep, tuple[State, ...]] = {
    BenchStep.AS_FOUND: BEFORE_CUT,
    BenchStep.PLAN: (State.FOUND, State.PLANNED, State.SET_UP),
    BenchStep.SET_UP: (State.PLANNED, State.SET_UP),
    BenchStep.INDICATE: (State.SET_UP,),
    BenchStep.TOUCH_OFF: (State.SET_UP,),
    BenchStep.PASSES: (State.SET_UP, State.CUT),
    BenchStep.ACHIEVED: tuple(state for state in State if state not in CLOSED),
}


class SoFar(Protocol):
    """What the next step depends on, besides the job's state; a RoundRecord has all of it."""

    @property
    def round(self) -> Round: ...
    @property
    def plan_is_stale(self) -> bool: ...
    @property
    def is_indicated(self) -> bool: ...
    @property
    def touch_off_mm(self) -> float | None: ...
    @property
    def dial_targets_mm(self) -> Sequence[float]: ...
    @property
    def passes(self) -> Sequence[Pass]: ...
    @property
    def skipped(self) -> Sequence[SkippedStep]: ...


@dataclass(frozen=True)
class StepRow:
    """One step of the newest round. `is_open`: the job's state lets it be recorded now."""

    step: BenchStep
    standing: Standing
    is_open: bool


def progress(record: JobRecord) -> Sequence[StepRow]:
    """The steps of the newest round, in order."""
    todo, newest = next_step(record.job.state, record.newest), record.newest
    return [
        StepRow(
            step=step,
            standing=Standing.NEXT if step == todo else _standing(step, newest, record.job),
            is_open=record.job.state in TAKES.get(step, ()),
        )
        for step in BenchStep
    ]


def next_step(state: str, newest: SoFar) -> BenchStep | None:
    """What to do next in a job's newest round; None once the job is closed."""
    if state in CLOSED:
        return None
    if newest.round.parts_changed and state in BEFORE_CUT:
        return BenchStep.AS_FOUND
    if newest.plan_is_stale and state in PLAN_COUNTS:
        return BenchStep.PLAN
    if state == State.SET_UP:
        return _at_the_lathe(newest)
    if state == State.CUT:
        return BenchStep.PASSES if passes_left(newest) else BenchStep.ACHIEVED
    return {
        State.OPEN: BenchStep.AS_FOUND,
        State.FOUND: BenchStep.PLAN,
        State.PLANNED: BenchStep.SET_UP,
        State.MEASURED: BenchStep.VERDICT,
    }[State(state)]


def is_uncut(state: str, newest: Round) -> bool:
    """Whether no metal has come off in this job yet, in this round or one before."""
    return state in BEFORE_CUT and newest.number == 1


def cutting(job: Job, newest: SoFar) -> Cutting:
    """Of a job that is not closed."""
    state = State(job.state)
    if state in BEFORE_CUT:
        return Cutting.AHEAD
    if state == State.MEASURED:
        return Cutting.JUDGED
    return Cutting.BEGUN if passes_left(newest) else Cutting.OVER


def _at_the_lathe(newest: SoFar) -> BenchStep:
    if not newest.is_indicated and Step.INDICATING not in _skipped(newest):
        return BenchStep.INDICATE
    return BenchStep.TOUCH_OFF if newest.touch_off_mm is None else BenchStep.PASSES


def passes_left(newest: SoFar) -> int:
    """How many planned passes are still to take; none where there is no plan to count by.

    A pass counts as taken when the dial came within the smallest chip of it: what is left then
    cannot be cut by itself.
    """
    if Step.PASSES in _skipped(newest) or not newest.round.plan:
        return 0
    taken = [one for one in newest.passes if one.voided_at is None and not one.is_spring]
    if not taken:
        return len(newest.dial_targets_mm) or len(newest.round.plan["passes_mm"])
    reached = max(float(one.dial_mm) for one in taken) + newest.round.plan["smallest_chip_mm"]
    return sum(target > reached for target in newest.dial_targets_mm)


def cut_so_far(state: str, newest: SoFar) -> tuple[int, int] | None:
    """How many of the planned passes are taken, and of how many, while some are still to take."""
    left = passes_left(newest) if state == State.CUT else 0
    if not left or not newest.round.plan:
        return None
    planned = len(newest.dial_targets_mm) or len(newest.round.plan["passes_mm"])
    return planned - left, planned


def standing_passes(newest: SoFar) -> list[Pass]:
    """The passes on record that nobody voided, newest first."""
    return [one for one in reversed(newest.passes) if one.voided_at is None]


def _standing(step: BenchStep, newest: RoundRecord, job: Job) -> Standing:
    if _done(step, newest) or (
        step == BenchStep.VERDICT and job.is_closed and newest.result is not None
    ):
        return Standing.DONE
    if step in SKIPS and SKIPS[step] in _skipped(newest):
        return Standing.SKIPPED
    return Standing.NOT_DONE if job.is_closed else Standing.LATER


def _done(step: BenchStep, newest: RoundRecord) -> bool:
    round_ = newest.round
    return {
        BenchStep.AS_FOUND: newest.as_found is not None and not round_.parts_changed,
        BenchStep.PLAN: round_.plan is not None,
        BenchStep.SET_UP: round_.fixture is not None,
        BenchStep.INDICATE: newest.is_indicated,
        BenchStep.TOUCH_OFF: newest.touch_off_mm is not None,
        BenchStep.PASSES: any(one.voided_at is None for one in newest.passes),
        BenchStep.ACHIEVED: newest.achieved is not None,
        BenchStep.VERDICT: False,
    }[step]


def _skipped(newest: SoFar) -> set[str]:
    return {one.step for one in newest.skipped}
