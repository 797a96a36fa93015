"""Everything the record of one job shows."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db.models import Prefetch

from qc.lookups.record.budget import BudgetRow, budget_rows
from qc.lookups.record.depth import (
    Depth,
    depth_cut,
    touch_off_mm,
)
from qc.lookups.record.effect_rows import (
    EffectRow,
    EngineFigure,
    PortArc,
    effect_rows,
    engine_figures,
    port_arcs,
)
from qc.lookups.record.gaps import GapSummary, summary_of
from qc.lookups.record.material import flange_before_mm, removed_mm
from qc.models import (
    GAP_KINDS,
    Job,
    JobResult,
    JournalEntry,
    Kind,
    Pass,
    Reading,
    ReadingSet,
    Round,
    SkippedStep,
    Step,
)
from qc.numerics.cutting import dial_targets


@dataclass(frozen=True, eq=False)
class SetRecord:
    """One reading set with every reading, void ones included, in position order."""

    set: ReadingSet
    readings: Sequence[Reading]
    summary: GapSummary | None

    @property
    def standing(self) -> list[Reading]:
        return [one for one in self.readings if one.voided_at is None]

    @property
    def has_few_positions(self) -> bool:
        """Whether the reason for fewer than four still says something: one may be added later."""
        return len({one.position_deg for one in self.standing}) < 4

    def standing_at(self, position_deg: float) -> list[Reading]:
        return [one for one in self.standing if float(one.position_deg) == position_deg]


@dataclass(frozen=True, eq=False)
class ApartRecord:
    """A position, or the pieces at one, that stand apart; each suspect with its readings."""

    kind: str
    explained_mm: float
    suspects: Sequence[tuple[Mapping[str, Any], Sequence[Reading]]]


def apart_records(found: Iterable[Mapping[str, Any]], taken: SetRecord) -> list[ApartRecord]:
    """Findings as plain facts, each suspect with its readings in the set."""
    return [
        ApartRecord(
            kind=one["kind"],
            explained_mm=one["explained_mm"],
            suspects=[
                (suspect, taken.standing_at(suspect["position_deg"])) for suspect in one["suspects"]
            ],
        )
        for one in found
    ]


@dataclass(frozen=True, eq=False)
class RoundRecord:
    """One round: what was found, planned, set up, cut and achieved, as far as it has come.

    plan_is_stale: the readings or the target that the plan rests on have changed since.
    dial_targets_mm: the dial reading of each planned pass, counted from touch-off; empty before
    touch-off. taken_again: gap sets that a later one of the same round took the place of.
    """

    round: Round
    as_found: SetRecord | None
    achieved: SetRecord | None
    dial_sets: Sequence[SetRecord]
    passes: Sequence[Pass]
    skipped: Sequence[SkippedStep]
    depth: Depth
    touch_off_mm: float | None
    dial_targets_mm: Sequence[float]
    plan_is_stale: bool
    flange_before_mm: float | None
    result: JobResult | None
    older_results: Sequence[JobResult] = field(default_factory=tuple)

    @property
    def effects(self) -> Mapping[str, Any] | None:
        """What the plan said the cut does to the engine; None without a plan or where refused."""
        effects = (self.round.plan or {}).get("effects")
        return None if effects is None or "refused" in effects else effects

    @property
    def effect_rows(self) -> Sequence[EffectRow]:
        return () if self.effects is None else effect_rows(self.effects)

    @property
    def engine_figures(self) -> Sequence[EngineFigure]:
        return () if self.effects is None else engine_figures(self.effects)

    @property
    def port_arcs(self) -> Sequence[PortArc]:
        return () if self.effects is None else port_arcs(self.effects)

    @property
    def stands_apart(self) -> list[ApartRecord]:
        """What the current result says stands apart, with the readings it rests on."""
        if self.result is None or self.achieved is None:
            return []
        return apart_records(self.result.detail.get("stands_apart", ()), self.achieved)

    @property
    def turns(self) -> list[tuple[str, Mapping[str, Any]]]:
        """The turns of the dial as answered, by name, in the order they are taken."""
        answer = self.round.indicated or {}
        named = (("Snug", answer.get("snug")), ("Tightened", answer.get("tight")))
        return [(name, turn) for name, turn in named if turn is not None]

    @property
    def is_indicated(self) -> bool:
        """Whether the dial was turned after tightening."""
        return any(one.set.kind == Kind.INDICATED_TIGHT for one in self.dial_sets)

    @property
    def budget(self) -> Sequence[BudgetRow]:
        """The current result's uncertainty budget, largest part first; empty without a result."""
        return () if self.result is None else budget_rows(self.result)

    @property
    def has_cut(self) -> bool:
        """Whether a cut is on record, or the record says why there is none."""
        cut = any(one.voided_at is None and not one.is_spring for one in self.passes)
        return cut or any(one.step == Step.PASSES for one in self.skipped)

    @property
    def flange_after_plan_mm(self) -> float | None:
        """Flange height once the planned depth is off, however far the cut has come."""
        if self.flange_before_mm is None or not self.round.plan:
            return None
        return self.flange_before_mm - float(self.round.plan["depth_mm"])

    @property
    def flange_now_mm(self) -> float | None:
        """Flange height by the passes taken so far; None before the first."""
        if self.flange_before_mm is None or self.depth.mm is None or self.depth.is_planned:
            return None
        return self.flange_before_mm - self.depth.mm

    taken_again: Sequence[SetRecord] = field(default_factory=tuple)


@dataclass(frozen=True, eq=False)
class JobRecord:
    job: Job
    rounds: Sequence[RoundRecord]
    journal: Sequence[JournalEntry]
    removed_mm: float

    @property
    def newest(self) -> RoundRecord:
        return self.rounds[-1]


def job_record(job: Job) -> JobRecord:
    """The whole record of a job, rounds oldest first."""
    rounds = job.rounds.select_related(
        "fixture", "lathe", "edge", "operator", "as_found_set", "achieved_set", "job__cylinder"
    ).order_by("number", "pk")
    return JobRecord(
        job=job,
        rounds=[_round_record(one) for one in rounds],
        journal=list(job.journal.select_related("person", "token").order_by("pk")),
        removed_mm=float(removed_mm(job.cylinder)),
    )


def _round_record(round_: Round) -> RoundRecord:
    sets = {one.set.pk: one for one in _set_records(round_)}
    results = list(round_.results.select_related("policy").order_by("-revision"))
    current = next((one for one in results if one.is_current), None)
    touched = touch_off_mm(round_)
    flange = flange_before_mm(round_)
    dial_kinds = (Kind.INDICATED_SNUG, Kind.INDICATED_TIGHT, Kind.TOUCH_OFF)
    in_force = (round_.as_found_set_id, round_.achieved_set_id)
    return RoundRecord(
        round=round_,
        as_found=sets.get(round_.as_found_set_id or 0),
        achieved=sets.get(round_.achieved_set_id or 0),
        dial_sets=[one for one in sets.values() if one.set.kind in dial_kinds],
        passes=list(round_.passes.select_related("by", "voided_by").order_by("number", "pk")),
        skipped=list(round_.skipped.select_related("by").order_by("at")),
        depth=depth_cut(round_),
        touch_off_mm=touched,
        dial_targets_mm=dial_targets_of(round_, touched),
        plan_is_stale=_is_stale(round_),
        flange_before_mm=None if flange is None else float(flange),
        result=current,
        older_results=[one for one in results if not one.is_current],
        taken_again=[
            one for one in sets.values() if one.set.kind in GAP_KINDS and one.set.pk not in in_force
        ],
    )


def _set_records(round_: Round) -> list[SetRecord]:
    """The round's own sets, and the as-found set it shares with the round before."""
    own = round_.reading_sets.all() | ReadingSet.objects.filter(pk=round_.as_found_set_id or 0)
    rows = own.select_related("gauge", "by", "token").prefetch_related(
        Prefetch("readings", Reading.objects.select_related("by", "voided_by", "replaced_by"))
    )
    return [
        SetRecord(
            set=one,
            readings=list(one.readings.all()),
            summary=summary_of(one) if one.kind in (Kind.AS_FOUND, Kind.ACHIEVED) else None,
        )
        for one in rows.order_by("at", "pk").distinct()
    ]


def dial_targets_of(round_: Round, touched: float | None) -> Sequence[float]:
    """The dial reading of each planned pass; empty without a plan or before touch-off."""
    if touched is None or not round_.plan:
        return ()
    corrected = round_.plan.get("corrected_passes_mm")
    return tuple(
        float(one)
        for one in dial_targets(
            round_.plan["passes_mm"] if corrected is None else corrected,
            touch_off_mm=touched,
            angle_factor=float(round_.dial_factor or 1),
            paper_mm=float(round_.paper_mm),
        )
    )


def _is_stale(round_: Round) -> bool:
    if round_.plan is None or round_.as_found_set is None:
        return False
    return round_.as_found_set.fingerprint() != round_.plan_basis
