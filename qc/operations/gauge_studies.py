"""A gauge study opened: who reads which piece when, drawn and stored."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal

import numpy as np
from django.db import IntegrityError, transaction

from qc.actor import Actor
from qc.errors import AlreadyThere, BadInput
from qc.models import Gauge, GaugeStudy, Person, Repeats, Role, StudyTurn
from qc.numerics.gauge_study import drawn_order
from qc.operations import journal
from qc.operations.resources import in_use
from qc.units import Length

MOST_PARTS, MOST_TRIALS, MOST_HANDS = 50, 10, 12
MOST_TURNS = 600


@transaction.atomic
def open_study(
    *,
    name: str,
    gauges: Sequence[Gauge],
    people: Sequence[Person],
    parts: int,
    trials: int,
    pieces_are: str,
    repeats: Repeats,
    nominal: Length,
    tolerance: Length,
    seed: int,
    by: Actor,
    at: datetime,
    note: str = "",
) -> GaugeStudy:
    """Open a study and draw who reads which piece when.

    A hand is one of `people` with one of `gauges`. tolerance: the full width readings are held
    against. nominal: about what the pieces measure, to catch a reading in a wrong unit.
    seed: of the order. Raises BadInput naming the field at fault.
    """
    by.must_be(Role.LEAD, to="open a gauge study")
    hands = _hands(people, gauges)
    _check_size(parts, trials, len(hands))
    study = GaugeStudy(
        name=_own_name(name),
        note=note.strip(),
        pieces_are=pieces_are.strip() or "pieces",
        repeats=Repeats(repeats),
        parts=parts,
        trials=trials,
        nominal_mm=_above_zero(nominal, "nominal"),
        tolerance_mm=_above_zero(tolerance, "tolerance"),
        tolerance_value=f"{tolerance.value:f}",
        tolerance_unit=tolerance.unit.value,
        seed=seed,
        opened_at=at,
        opened_by=by.person,
    )
    try:
        with transaction.atomic():
            study.save()
    except IntegrityError:
        raise AlreadyThere(what="A study called", name=study.name, fields=("name",)) from None
    order = drawn_order(
        hands=len(hands), parts=parts, trials=trials, rng=np.random.default_rng(seed)
    )
    StudyTurn.objects.bulk_create(
        StudyTurn(
            study=study,
            order=number,
            person=hands[turn.hand][0],
            gauge=hands[turn.hand][1],
            part=turn.part + 1,
            trial=turn.trial + 1,
        )
        for number, turn in enumerate(order, start=1)
    )
    journal.note(
        by,
        "study.opened",
        subject=study,
        at=at,
        after={
            "name": study.name,
            "gauges": ", ".join(one.name for one in gauges),
            "people": ", ".join(one.name for one in people),
            "parts": parts,
            "trials": trials,
            "repeats": study.get_repeats_display(),
            "tolerance_mm": study.tolerance_mm,
            "seed": seed,
        },
    )
    return study


def _hands(people: Sequence[Person], gauges: Sequence[Gauge]) -> list[tuple[Person, Gauge]]:
    if not gauges:
        raise BadInput(why="Choose the gauge or gauges to study.", fields=("gauges",))
    if not people:
        raise BadInput(why="Choose who reads.", fields=("people",))
    for gauge in gauges:
        in_use(gauge)
    for person in people:
        if not person.is_active or person.role == Role.VIEWER:
            raise BadInput(why=f"{person} may not record readings.", fields=("people",))
    hands = [(person, gauge) for person in people for gauge in gauges]
    if len({(person.pk, gauge.pk) for person, gauge in hands}) < len(hands):
        raise BadInput(why="Name each person and each gauge once.", fields=("people", "gauges"))
    if len(hands) < 2:
        raise BadInput(
            why="One person with one gauge has nobody to differ from: add a person or a gauge.",
            fields=("people",),
        )
    return hands


def _check_size(parts: int, trials: int, hands: int) -> None:
    if not 2 <= parts <= MOST_PARTS:
        raise BadInput(why=f"A study has 2 to {MOST_PARTS} pieces.", fields=("parts",))
    if not 1 <= trials <= MOST_TRIALS:
        raise BadInput(why=f"Each piece is read 1 to {MOST_TRIALS} times.", fields=("trials",))
    if hands > MOST_HANDS or parts * trials * hands > MOST_TURNS:
        raise BadInput(
            why=f"That is {parts * trials * hands} readings; a study has at most {MOST_TURNS}, by "
            f"{MOST_HANDS} hands. Use fewer pieces, people or trials.",
            fields=("parts",),
        )


def _own_name(name: str) -> str:
    name = name.strip()
    if not name:
        raise BadInput(why="Give the study a name.", fields=("name",))
    if GaugeStudy.objects.filter(name__iexact=name).exists():
        raise AlreadyThere(what="A study called", name=name, fields=("name",))
    return name


def _above_zero(length: Length, field: str) -> Decimal:
    if length.mm <= 0:
        raise BadInput(why=f"The {field} is above zero; got {length}.", fields=(field,))
    return length.mm
