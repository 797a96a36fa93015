"""Gauge studies and checked gauges, made through the operations as a shop would."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from decimal import Decimal

import numpy as np

from qc.actor import Actor
from qc.lookups.gauges.gauge_studies import open_turns
from qc.models import Gauge, GaugeCheck, GaugeStudy, Person, Repeats, Role, Standard, StudyTurn
from qc.operations import gauge_checks, gauge_studies, study_trials, study_use
from qc.units import Length, Unit, mm
from tests.make import NOON, Shop, make_person

Reads = Callable[[StudyTurn], str]
SEED = 7


def third_hand(shop: Shop) -> Person:
    found = Person.objects.filter(username="pia").first()
    return found or make_person("pia", Role.OPERATOR, by=shop.lead)


def make_study(
    shop: Shop,
    *,
    name: str = "Micrometer on solder",
    parts: int = 5,
    trials: int = 2,
    gauges: list[Gauge] | None = None,
    people: list[Person] | None = None,
    repeats: Repeats = Repeats.FRESH,
    seed: int = SEED,
    at: datetime = NOON,
) -> GaugeStudy:
    hands = people or [shop.operator.person, shop.lead.person, third_hand(shop)]
    return gauge_studies.open_study(
        name=name,
        gauges=gauges or [shop.gauge],
        people=hands,
        parts=parts,
        trials=trials,
        pieces_are="crushed solder",
        repeats=repeats,
        nominal=mm("0.50"),
        tolerance=mm("0.10"),
        seed=seed,
        by=shop.lead,
        at=at,
    )


def scattered(
    shop: Shop, *, seed: int = 11, part: float = 0.03, hand: float = 0.006, again: float = 0.004
) -> Reads:
    """Readings to 0.001 mm whose pieces, hands and repeats scatter by these standard deviations."""
    rng = np.random.default_rng(seed)
    pieces, hands = rng.normal(0, part, 60), rng.normal(0, hand, 60)
    own = {shop.operator.person.pk: 0, shop.lead.person.pk: 1}

    def reads(turn: StudyTurn) -> str:
        off = pieces[turn.part] + hands[own.get(turn.person_id, 2)] + rng.normal(0, again)
        return f"{0.5 + off:.3f}"

    return reads


def read_study(
    study: GaugeStudy, reads: Reads, *, by: Actor, at: datetime = NOON, most: int | None = None
) -> None:
    """Read every turn still open, in the order drawn, or the first `most`."""
    for number, turn in enumerate(list(open_turns(study).select_related("study", "person"))):
        if most is not None and number >= most:
            return
        study_trials.record_trial(turn=turn, length=mm(reads(turn)), by=by, at=at)


def closed_study(shop: Shop, **how: object) -> GaugeStudy:
    study = make_study(shop, **how)  # type: ignore[arg-type]
    read_study(study, scattered(shop), by=shop.operator)
    return study_use.close_study(study=study, by=shop.lead, at=NOON)


def make_standard(shop: Shop, name: str = "Block 0.5", size: str = "0.500") -> Standard:
    return gauge_checks.register_standard(
        name=name, size=mm(size), u_mm=Decimal("0.0002"), by=shop.lead, at=NOON
    )


def check_gauge(
    shop: Shop, standard: Standard, values: list[str], *, days: int = 7, at: datetime = NOON
) -> list[GaugeCheck]:
    """One check every `days` days."""
    return [
        gauge_checks.record_check(
            gauge=shop.gauge,
            standard=standard,
            length=Length(Decimal(value), Unit.MM),
            by=shop.operator,
            at=at + timedelta(days=days * number),
        )
        for number, value in enumerate(values)
    ]
