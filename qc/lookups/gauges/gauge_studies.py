"""Gauge studies as pages and the API tell them; what was read is told once a study is closed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, Q, QuerySet

from qc.models import Gauge, GaugeStudy, Person, StudyReading, StudyTurn, StudyUse


@dataclass(frozen=True)
class HandProgress:
    """One person's way through a study. `next`: their next turn, None when all are done."""

    person: Person
    turns: int
    read: int
    left_out: int
    next: StudyTurn | None


@dataclass(frozen=True, eq=False)
class StudyRecord:
    """`readings`: in the order drawn, void ones too. `use`: the newest, taken or set aside.

    result: as it was answered on closing, None while the study is open or showed nothing;
    refused: why it showed nothing. two_hands_share: of the tolerance, what two hands may differ by.
    """

    study: GaugeStudy
    gauges: Sequence[Gauge]
    hands: Sequence[HandProgress]
    readings: Sequence[StudyReading]
    left_out: Sequence[StudyTurn]
    uses: Sequence[StudyUse]

    @property
    def turns(self) -> int:
        return sum(hand.turns for hand in self.hands)

    @property
    def read(self) -> int:
        return sum(hand.read for hand in self.hands)

    @property
    def use(self) -> StudyUse | None:
        return self.uses[-1] if self.uses else None

    @property
    def is_taken(self) -> bool:
        return self.use is not None and self.use.is_taken

    @property
    def result(self) -> dict[str, Any] | None:
        found: dict[str, Any] | None = self.study.result
        return None if found is None or found["refused"] else found

    @property
    def refused(self) -> str:
        return str(self.study.result["refused"] or "") if self.study.result else ""

    @property
    def two_hands_share(self) -> float | None:
        if self.result is None:
            return None
        return float(self.result["two_hands_mm"]) / float(self.study.tolerance_mm)

    @property
    def classes(self) -> int:
        """Groups of pieces that can be told apart, the whole part; 0 where none can."""
        return 0 if self.result is None else int(self.result["classes"] or 0)


@dataclass(frozen=True)
class StudyRow:
    study: GaugeStudy
    turns: int
    read: int
    is_taken: bool


def studies() -> QuerySet[GaugeStudy]:
    return GaugeStudy.objects.select_related("opened_by", "closed_by")


def study_rows() -> list[StudyRow]:
    """Every study, newest first, with how far it is read and whether it is in force."""
    counted = studies().annotate(
        turn_count=Count("turns", distinct=True),
        read_count=Count(
            "turns__readings", filter=Q(turns__readings__voided_at=None), distinct=True
        ),
    )
    taken = {use.study_id: use.is_taken for use in StudyUse.objects.order_by("at", "pk")}
    return [
        StudyRow(one, one.turn_count, one.read_count, taken.get(one.pk, False))
        for one in counted.order_by("-opened_at", "-pk")
    ]


def study_record(study: GaugeStudy) -> StudyRecord:
    turns = list(study.turns.select_related("person", "gauge"))
    readings = StudyReading.objects.filter(turn__study=study).select_related(
        "turn__person", "turn__gauge", "by", "token", "voided_by"
    )
    kept = list(readings.order_by("turn__order", "pk"))
    return StudyRecord(
        study=study,
        gauges=sorted({turn.gauge for turn in turns}, key=lambda one: one.name),
        hands=_progress(turns, kept),
        readings=kept,
        left_out=[turn for turn in turns if turn.left_out_at is not None],
        uses=list(study.uses.select_related("by").order_by("at", "pk")),
    )


def open_turns(study: GaugeStudy) -> QuerySet[StudyTurn]:
    """Turns neither read nor left out, in the order drawn."""
    read = StudyReading.objects.filter(voided_at=None, turn__study=study).values("turn")
    return study.turns.filter(left_out_at=None).exclude(pk__in=read).order_by("order")


def next_turn(study: GaugeStudy, person: Person) -> StudyTurn | None:
    """The next reading for this person; None when nothing is left for them."""
    return open_turns(study).filter(person=person).select_related("person", "gauge").first()


def _progress(turns: Sequence[StudyTurn], readings: Sequence[StudyReading]) -> list[HandProgress]:
    read = {one.turn_id for one in readings if one.voided_at is None}
    people = {turn.person_id: turn.person for turn in turns}
    return [
        _hand(person, [turn for turn in turns if turn.person_id == person.pk], read)
        for person in sorted(people.values(), key=lambda one: one.name)
    ]


def _hand(person: Person, turns: Sequence[StudyTurn], read: set[int]) -> HandProgress:
    waiting = [one for one in turns if one.pk not in read and one.left_out_at is None]
    return HandProgress(
        person=person,
        turns=len(turns),
        read=sum(one.pk in read for one in turns),
        left_out=sum(one.left_out_at is not None for one in turns),
        next=waiting[0] if waiting else None,
    )
