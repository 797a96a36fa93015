"""The shop's choices: those in force, and through time who changed which, when and why."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from qc.models import ShopPolicy
from qc.numerics.engine_effects import PUBLISHED
from qc.numerics.engine_effects.limits import PublishedRange

KEPT = frozenset({"id", "since", "by", "why", "follows"})
CHOICES = tuple(one for one in ShopPolicy._meta.concrete_fields if one.name not in KEPT)


def shop_policy() -> ShopPolicy:
    """The policy in force; the defaults, unsaved, in a shop that has none yet."""
    return ShopPolicy.objects.order_by("-pk").first() or ShopPolicy()


@dataclass(frozen=True)
class Choice:
    """One choice that changed: the column's name, and its values before and after."""

    name: str
    before: object
    after: object


@dataclass(frozen=True)
class PolicyChange:
    since: datetime
    by: str
    why: str
    choices: Sequence[Choice]


def policy_history() -> list[PolicyChange]:
    """Every change, newest first. The first row has nothing before it and lists no choices."""
    rows = list(ShopPolicy.objects.select_related("by").order_by("pk"))
    changes = [_change(old, new) for old, new in zip([None, *rows], rows, strict=False)]
    return changes[::-1]


def _change(old: ShopPolicy | None, new: ShopPolicy) -> PolicyChange:
    return PolicyChange(
        since=new.since,
        by="" if new.by is None else new.by.name,
        why=new.why,
        choices=() if old is None else tuple(_differences(old, new)),
    )


def _differences(old: ShopPolicy, new: ShopPolicy) -> list[Choice]:
    pairs = [(one.name, getattr(old, one.name), getattr(new, one.name)) for one in CHOICES]
    return [Choice(name, before, after) for name, before, after in pairs if before != after]


@dataclass(frozen=True)
class PublishedLimit:
    """What one publication gives for one quantity, as a person reads it."""

    quantity: str
    span: str
    says: str


QUANTITIES = {
    "squish_velocity_ms": ("Squish velocity, peak", "m/s"),
    "trapped_ratio": ("Compression, trapped", ": 1"),
    "squish_mm": ("Squish", "mm"),
}


def published_limits() -> list[PublishedLimit]:
    """Published figures beside which a shop sets its own; they disagree, so none is a default."""
    return [PublishedLimit(QUANTITIES[one.quantity][0], _span(one), one.says) for one in PUBLISHED]


def _span(one: PublishedRange) -> str:
    unit = QUANTITIES[one.quantity][1]
    if one.lowest is None:
        return f"at most {one.highest:g} {unit}"
    if one.highest is None:
        return f"at least {one.lowest:g} {unit}"
    return f"{one.lowest:g} to {one.highest:g} {unit}"
