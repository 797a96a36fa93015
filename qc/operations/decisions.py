"""What the service recommends about a flag, and what a lead makes of it."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from qc.actor import Actor
from qc.errors import BadInput, ReasonNeeded
from qc.lookups.drift_advice import recommended
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
def answer(*, flag: Flag, answer: Answer, by: Actor, at: datetime, why: str = "") -> Decision:
    """Accept the recommendation, or put it off with a reason; what was put off may be accepted."""
    by.must_be(Role.LEAD, to="decide about a flag")
    answer = Answer(answer)
    if answer == Answer.OPEN:
        raise BadInput(why="Accept the recommendation or put it off.", fields=("answer",))
    if answer == Answer.PUT_OFF and not why.strip():
        raise ReasonNeeded(what="Putting a recommendation off")
    # Locked, so that a flag closed meanwhile is seen as closed.
    flag = Flag.objects.select_for_update(of=("self",)).get(pk=flag.pk)
    decided = Decision.objects.filter(flag=flag).exclude(answer=Answer.ACCEPTED)
    before = decided.values_list("answer", flat=True).first()
    if not flag.is_open or not decided.update(
        answer=answer, answered_at=at, answered_by=by.person, why=why.strip()
    ):
        raise BadInput(why="There is nothing left to decide about that flag.")
    found = Decision.objects.get(flag=flag)
    journal.note(
        by,
        f"decision.{answer}",
        subject=flag,
        at=at,
        before={"answer": before},
        after={"answer": answer, "recommended": found.recommended, **found.figures},
        why=why,
    )
    announce(flag, Happening(f"decision.{answer}"), at=at, by=by.person)
    return found
