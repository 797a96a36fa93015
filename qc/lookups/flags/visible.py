"""Who may know of a flag.

A flag on a person is for that person and the leads, and so is one that was raised about a thing and
has come to name a person. Where a person is one of several suspects, everybody else reads
"somebody's technique" and no name.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django.db.models import Q, QuerySet

from qc.actor import Actor
from qc.models import OPEN_FLAG, Flag, Person, Role
from qc.numerics.drift.suspects import NAMED_AT, is_named

NAMES_PERSON = Q(suspects__0__kind="person", suspects__0__probability__gte=NAMED_AT)


def visible_to(by: Actor) -> Q:
    """Flags that this reader may know of."""
    if by.may(Role.LEAD):
        return Q()
    own, of_nobody = by.person.pk, Q(person=None) & ~NAMES_PERSON
    if own is None:
        return of_nobody
    return of_nobody | Q(person=own) | (NAMES_PERSON & Q(suspects__0__key=own))


def may_know(flag: Flag, by: Actor) -> bool:
    """The same of one flag."""
    people = {flag.person_id, named_person(flag)} - {None}
    return by.may(Role.LEAD) or not people or by.person.pk in people


def names_first(suspects: Sequence[Mapping[str, Any]]) -> bool:
    """Whether a flag's likeliest suspect is likely enough to be named alone."""
    first = suspects[0]
    return is_named(first["probability"] or 0.0, first.get("by_jobs", 1.0))


def named_person(flag: Flag) -> int | None:
    """The person whom a flag has come to name, whatever it was raised about."""
    first = flag.suspects[0]
    is_named = first["kind"] == "person" and (first["probability"] or 0.0) >= NAMED_AT
    return first["key"] if is_named else None


def open_on_fixtures() -> QuerySet[Flag]:
    """Open flags raised on a fixture. One that has come to name a person says nothing of the
    fixture any more, and is left out."""
    return Flag.objects.filter(~NAMES_PERSON, state__in=OPEN_FLAG, fixture__isnull=False)


def anybody() -> Actor:
    """A reader with no name: sees what every account of the shop may."""
    return Actor(Person(role=Role.VIEWER))
