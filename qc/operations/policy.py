"""The shop's choices. A change is a new row; the old one stays and old results point at it."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from django.core.exceptions import ValidationError
from django.db import transaction

from qc.actor import Actor
from qc.errors import BadInput
from qc.models import Role, ShopPolicy
from qc.operations import journal

CHOICES = tuple(
    field.name
    for field in ShopPolicy._meta.concrete_fields
    if field.name not in ("id", "since", "by", "why")
)


def ensure_policy(*, at: datetime) -> ShopPolicy:
    """The policy in force, the newest row; made from the defaults where the shop is new."""
    newest = ShopPolicy.objects.order_by("-pk").first()
    if newest is not None:
        return newest
    ShopPolicy.objects.create(since=at, by=None, why="Defaults of a new shop.")
    return ShopPolicy.objects.latest("pk")


@transaction.atomic
def change_policy(*, by: Actor, at: datetime, why: str, **choices: Any) -> ShopPolicy:
    """Put new choices in force from now on. Raises BadInput naming the choice at fault."""
    by.must_be(Role.LEAD, to="change the shop's limits")
    unknown = set(choices) - set(CHOICES)
    if unknown:
        raise BadInput(why=f"No such shop choice: {', '.join(sorted(unknown))}.")
    old = ensure_policy(at=at)
    new = ShopPolicy(**{name: getattr(old, name) for name in CHOICES})
    for name, value in choices.items():
        setattr(new, name, value)
    new.since, new.by, new.why = at, by.person, why
    _check(new)
    new.save()
    new.refresh_from_db()
    changed = [name for name in CHOICES if getattr(old, name) != getattr(new, name)]
    journal.note(
        by,
        "policy.changed",
        subject=new,
        at=at,
        why=why,
        before={name: getattr(old, name) for name in changed},
        after={name: getattr(new, name) for name in changed},
    )
    return new


def _check(policy: ShopPolicy) -> None:
    try:
        ZoneInfo(policy.time_zone)
    except (ZoneInfoNotFoundError, ValueError):
        raise BadInput(
            why=f"Unknown time zone {policy.time_zone}. Write it like Europe/Dublin.",
            fields=("time_zone",),
        ) from None
    try:
        policy.full_clean(exclude=["by"])
    except ValidationError as error:
        names = tuple(error.message_dict)
        raise BadInput(why=" ".join(error.messages), fields=names) from None
