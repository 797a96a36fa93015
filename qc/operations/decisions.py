"""What the service recommends about a flag, and what a lead makes of it."""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction
from django.db.models import F
from django.utils import timezone

from qc.actor import Actor
from qc.errors import BadInput, ChangedMeanwhile, ReasonNeeded
from qc.lookups.flags.drift_advice import recommended
from qc.models import Answer, Decision, Flag, Happening, Role
from qc.numerics.drift import Watch
from qc.operations import journal
from qc.operations.notices import announce


def recommend(flag: Flag, *, watch: Watch, at: datetime) -> Decision:
    """Put down what to do about a fresh flag and the figures that rests on."""
    what, figures = recommended(flag, watch)
    return Decision.objects.create(
        flag=flag, recommended=what, figures=journal.plain(figures), made_at=at
    )


@transaction.atomic
def answer(
    *,
    flag: Flag,
    answer: Answer,
    by: Actor,
    at: datetime,
    why: str = "",
    until: date | None = None,
    expected_version: int | None = None,
) -> Decision:
    """Accept the recommendation, or put it off with a reason. Either may be changed while the flag
    is open: what was put off is accepted or put off again, and what was accepted is put off.

    until: the day to decide again, only where it is put off. Raises ChangedMeanwhile where somebody
    answered since the decision was at `expected_version`.
    """
    by.must_be(Role.LEAD, to="decide about a flag")
    answer = Answer(answer)
    if answer == Answer.OPEN:
        raise BadInput(why="Accept the recommendation or put it off.", fields=("answer",))
    if answer == Answer.PUT_OFF and not why.strip():
        raise ReasonNeeded(what="Putting a recommendation off")
    if until is not None and answer != Answer.PUT_OFF:
        raise BadInput(why="Give a day only where it is put off.", fields=("until",))
    if until is not None and until < timezone.localtime(at).date():
        raise BadInput(why="The day to decide again lies ahead.", fields=("until",))
    # Locked, so that a flag closed meanwhile is seen as closed.
    flag = Flag.objects.select_for_update(of=("self",)).get(pk=flag.pk)
    before = Decision.objects.filter(flag=flag).first()
    if before is not None and expected_version not in (None, before.version):
        what = "what is decided about this flag"
        raise ChangedMeanwhile(what=what, seen=expected_version, now=before.version)
    if before is None or not flag.is_open:
        raise BadInput(why="There is nothing left to decide about that flag.")
    if before.answer == answer == Answer.ACCEPTED:
        why_not = "It is accepted already. Put it off, with a reason, to decide otherwise."
        raise BadInput(why=why_not, fields=("answer",))
    Decision.objects.filter(pk=before.pk).update(
        answer=answer,
        answered_at=at,
        answered_by=by.person,
        why=why.strip(),
        put_off_until=until,
        version=F("version") + 1,
    )
    found = Decision.objects.get(pk=before.pk)
    journal.note(
        by,
        f"decision.{answer}",
        subject=flag,
        at=at,
        before={"answer": before.answer},
        after={
            "answer": answer,
            "until": until,
            "recommended": found.recommended,
            **found.figures,
        },
        why=why,
    )
    if answer != before.answer:
        announce(flag, Happening(f"decision.{answer}"), at=at, by=by.person)
    return found
