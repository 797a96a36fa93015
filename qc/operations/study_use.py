"""A gauge study closed, taken as the shop's, and set aside again."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from django.db import transaction

from qc.actor import Actor
from qc.errors import BadInput, NoResultToTake
from qc.lookups.gauges.gauge_studies import open_turns
from qc.models import GaugeStudy, Role, StudyUse
from qc.operations import journal
from qc.operations.policy import ensure_policy
from qc.operations.study_result import result_of
from qc.operations.study_trials import claim, reason_given


@transaction.atomic
def close_study(*, study: GaugeStudy, by: Actor, at: datetime, why: str = "") -> GaugeStudy:
    """Close a study with what there is, and keep its result.

    why: needed while turns are still open. A study whose readings show nothing is closed all the
    same; its result says why there is none.
    """
    by.must_be(Role.LEAD, to="close a gauge study")
    claim(study)
    if open_turns(study).exists():
        reason_given(why, "Closing a study before every turn is read")
    result = result_of(study)
    GaugeStudy.objects.filter(pk=study.pk).update(
        closed_at=at, closed_by=by.person, closed_why=why.strip(), result=result
    )
    study.refresh_from_db()
    journal.note(by, "study.closed", subject=study, at=at, after={"result": result}, why=why)
    return study


@transaction.atomic
def take_study(*, study: GaugeStudy, why: str, by: Actor, at: datetime) -> StudyUse:
    """Take a closed study as the shop's: jobs measured with its gauges from now on count it in.

    Raises NoResultToTake where it has no figures, or its repeats never differ.
    """
    by.must_be(Role.LEAD, to="take a study as the shop's")
    reason_given(why, "Taking a study")
    _lock(study)
    result = study.result
    if result is None:
        raise NoResultToTake(study=study, why="it is still open. Close it first.")
    if result["refused"]:
        raise NoResultToTake(study=study, why=result["refused"])
    if result["too_coarse"]:
        raise NoResultToTake(
            study=study,
            why="its repeats never differ, so the gauge is too coarse to show how well it repeats.",
        )
    parts, df = result["components"], result["df"]
    use = StudyUse.objects.create(
        study=study,
        is_taken=True,
        at=at,
        by=by.person,
        why=why.strip(),
        says=_called(study, zone=ensure_policy(at=at).time_zone),
        repeat_sd_mm=parts["repeatability_mm"],
        repeat_df=df["repeatability"],
        hands_sd_mm=parts["operator_mm"],
        hands_df=df["operator"],
        by_piece_sd_mm=parts["interaction_mm"],
        by_piece_df=df["interaction"],
    )
    after = {name: getattr(use, name) for name in ("repeat_sd_mm", "hands_sd_mm", "by_piece_sd_mm")}
    journal.note(by, "study.taken", subject=study, at=at, after=after, why=why)
    return use


@transaction.atomic
def set_aside(*, study: GaugeStudy, why: str, by: Actor, at: datetime) -> StudyUse:
    """Stop counting a study in: jobs measured from now on use the shop's usual figures again."""
    by.must_be(Role.LEAD, to="set a study aside")
    reason_given(why, "Setting a study aside")
    _lock(study)
    last = study.uses.order_by("-pk").first()
    if last is None or not last.is_taken:
        raise BadInput(why=f"The study {study} is not taken as the shop's.")
    last.pk, last._state.adding = None, True
    last.is_taken, last.at, last.by, last.why = False, at, by.person, why.strip()
    last.save()
    journal.note(by, "study.set_aside", subject=study, at=at, why=why)
    return last


def _lock(study: GaugeStudy) -> None:
    """Hold the study's row and read it anew: a reading of it may have been voided meanwhile."""
    GaugeStudy.objects.select_for_update().get(pk=study.pk)
    study.refresh_from_db()


def _called(study: GaugeStudy, *, zone: str) -> str:
    """How budgets name it: its day, and how many read how much."""
    result = study.result
    assert result is not None  # only a closed one is taken
    assert study.closed_at is not None
    day = study.closed_at.astimezone(ZoneInfo(zone))
    people = study.turns.values("person").distinct().count()
    gauges = study.turns.values("gauge").distinct().count()
    hands = f"{people} people" if people > 1 else "1 person"
    if gauges > 1:
        hands += f" x {gauges} gauges"
    each = f" x {result['trials']}" if result["trials"] else f", {result['readings']} readings"
    return f"gauge study of {day.day} {day:%B %Y}, {result['parts']} parts x {hands}{each}"
