"""The shop's choices. A change is a new row; the old one stays and old results point at it."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from qc.actor import Actor
from qc.errors import BadInput, ChangedMeanwhile
from qc.lookups.record.carry_through import OwnShare, own_share
from qc.models import Role, ShopPolicy
from qc.operations import journal

CHOICES = tuple(
    field.name
    for field in ShopPolicy._meta.concrete_fields
    if field.name not in ("id", "since", "by", "why", "follows")
)


def ensure_policy(*, at: datetime) -> ShopPolicy:
    """The policy in force, the newest row; made from the defaults where the shop is new."""
    newest = ShopPolicy.objects.order_by("-pk").first()
    if newest is not None:
        return newest
    ShopPolicy.objects.create(since=at, by=None, why="Defaults of a new shop.")
    return ShopPolicy.objects.latest("pk")


@transaction.atomic
def change_policy(
    *, by: Actor, at: datetime, why: str, seen: int | None = None, **choices: Any
) -> ShopPolicy:
    """Put new choices in force from now on. Raises BadInput naming the choice at fault.

    seen: the key of the row the choices were made from, 0 for the defaults of a new shop. Raises
    ChangedMeanwhile where another is in force by then, and for the later of two changes at once.
    """
    by.must_be(Role.LEAD, to="change the shop's limits")
    unknown = set(choices) - set(CHOICES)
    if unknown:
        raise BadInput(why=f"No such shop choice: {', '.join(sorted(unknown))}.")
    in_force = ShopPolicy.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
    if seen is not None and seen != in_force:
        raise ChangedMeanwhile(what="the settings", seen=seen, now=in_force)
    old = ensure_policy(at=at)
    new = ShopPolicy(**{name: getattr(old, name) for name in CHOICES})
    for name, value in choices.items():
        setattr(new, name, value)
    new.since, new.by, new.why, new.follows = at, by.person, why, old
    _check(new)
    try:
        with transaction.atomic():
            new.save()
    except IntegrityError:  # somebody else's change followed the same row
        now = ShopPolicy.objects.latest("pk").pk
        raise ChangedMeanwhile(what="the settings", seen=old.pk, now=now) from None
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


@transaction.atomic
def take_own_share(*, by: Actor, at: datetime, seen: str) -> ShopPolicy:
    """Put the carry-through of the shop's own clocking tests in force.

    seen: the estimate as it was read (`told_share`); a test since then makes another.
    """
    by.must_be(Role.LEAD, to="change the shop's limits")
    own = own_share()
    if own is None:
        raise BadInput(why="No clocking test has shown a share yet. Indicate on two planes first.")
    if not own.is_sensible:
        raise BadInput(
            why=f"The tests come to {told_share(own)}, and a share lies from 0 to 1: they say too "
            "little yet. Run another clocking test, half a turn apart."
        )
    if told_share(own) != seen:
        raise ChangedMeanwhile(what="the estimate", seen=seen, now=told_share(own))
    tests = ", ".join(f"job {one.job} round {one.round}" for one in own.tests)
    return change_policy(
        by=by,
        at=at,
        why=f"The shop's own clocking tests, {told_share(own)}: {tests}.",
        carry_through=_thousandths(own.value),
        carry_through_u=max(_thousandths(own.u), Decimal("0.001")),
    )


def told_share(own: OwnShare) -> str:
    return f"{own.value:.3f} \N{PLUS-MINUS SIGN} {own.u:.3f}"


def _thousandths(value: float) -> Decimal:
    return Decimal(value).quantize(Decimal("0.001"))


def _check(policy: ShopPolicy) -> None:
    try:
        ZoneInfo(policy.time_zone)
    except (ZoneInfoNotFoundError, ValueError):
        raise BadInput(
            why=f"Unknown time zone {policy.time_zone}. Write it like Europe/Dublin.",
            fields=("time_zone",),
        ) from None
    try:
        policy.full_clean(exclude=["by", "follows"])
    except ValidationError as error:
        names = tuple(error.message_dict)
        raise BadInput(why=" ".join(error.messages), fields=names) from None
