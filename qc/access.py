"""The only way to turn what a request says into a row: an id, a name or a key.

Unknown and not yours get the same answer, so that nobody can find out what exists.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TypeVar

from django.core.exceptions import ObjectDoesNotExist
from django.db.models import Model

from qc.actor import Actor
from qc.errors import NotThere
from qc.lookups.flags.told import RELATED
from qc.lookups.flags.visible import may_know
from qc.models import (
    Baseline,
    BenchToken,
    Cylinder,
    EngineFamily,
    Fixture,
    Flag,
    Gauge,
    GaugeCheck,
    GaugeStudy,
    Job,
    Lathe,
    Notice,
    Pass,
    Person,
    Reading,
    ReadingSet,
    Reindication,
    Role,
    Standard,
    StudyReading,
    StudyTurn,
    ToolEdge,
    Webhook,
)
from qc.operations.people import hash_of_key

M = TypeVar("M", bound=Model)
SEEN_AFRESH = timedelta(minutes=1)


def actor_for_key(key: str, *, at: datetime) -> Actor | None:
    """The actor behind a bench token's key, or None for an unknown, revoked or closed one."""
    token = (
        BenchToken.objects.select_related("person")
        .filter(key_hash=hash_of_key(key), revoked_at=None, person__is_active=True)
        .first()
    )
    if token is None:
        return None
    if token.last_used_at is None or at - token.last_used_at > SEEN_AFRESH:
        BenchToken.objects.filter(pk=token.pk).update(last_used_at=at)
    return Actor(token.person, token)


def job(key: object) -> Job:
    return _row(Job, key, "job", "cylinder__family", "opened_by", "closed_by")


def reading_set(key: object, *, of: Job | None = None) -> ReadingSet:
    found = _row(ReadingSet, key, "reading set", "job", "round", "gauge")
    if of is not None and found.job_id != of.pk:
        raise NotThere(what="reading set")
    return found


def reading(key: object, *, of: Job | None = None) -> Reading:
    found = _row(Reading, key, "reading", "set__job", "set__round", "set__gauge")
    if of is not None and found.set.job_id != of.pk:
        raise NotThere(what="reading")
    return found


def taken_pass(key: object, *, of: Job | None = None) -> Pass:
    found = _row(Pass, key, "pass", "round__job")
    if of is not None and found.round.job_id != of.pk:
        raise NotThere(what="pass")
    return found


def fixture(key: object) -> Fixture:
    return _row(Fixture, key, "fixture")


def lathe(key: object) -> Lathe:
    return _row(Lathe, key, "lathe")


def edge(key: object) -> ToolEdge:
    return _row(ToolEdge, key, "tool edge", "lathe")


def gauge(key: object) -> Gauge:
    return _row(Gauge, key, "gauge")


def standard(key: object) -> Standard:
    return _row(Standard, key, "standard")


def check(key: object, *, of: Gauge) -> GaugeCheck:
    found = _row(GaugeCheck, key, "check", "gauge", "standard")
    if found.gauge_id != of.pk:
        raise NotThere(what="check")
    return found


def study(key: object) -> GaugeStudy:
    return _row(GaugeStudy, key, "gauge study", "opened_by", "closed_by")


def study_turn(order: int, *, of: GaugeStudy) -> StudyTurn:
    """By its number in the order drawn."""
    try:
        return of.turns.select_related("study", "person", "gauge").get(order=order)
    except (ObjectDoesNotExist, OverflowError):
        raise NotThere(what="turn") from None


def study_reading(key: object, *, of: GaugeStudy) -> StudyReading:
    found = _row(StudyReading, key, "reading", "turn__study", "turn__person", "turn__gauge")
    if found.turn.study_id != of.pk:
        raise NotThere(what="reading")
    return found


def family(key: object) -> EngineFamily:
    return _row(EngineFamily, key, "engine family")


def cylinder(key: object) -> Cylinder:
    return _row(Cylinder, key, "cylinder", "family")


def flag(key: object, *, by: Actor) -> Flag:
    """One that this reader may know of; a person's is for that person and the leads."""
    found = _row(Flag, key, "flag", *RELATED)
    if not may_know(found, by):
        raise NotThere(what="flag")
    return found


def technique(key: object, *, by: Actor) -> Person:
    """The person whose technique a page tells of: for themselves and for the leads."""
    if not (by.may(Role.LEAD) or str(key) == str(by.person.pk)):
        raise NotThere(what="person")
    return person(key)


def baseline(key: object) -> Baseline:
    return _row(Baseline, key, "frozen limits", "chart", "frozen_by")


def person(key: object) -> Person:
    return _row(Person, key, "person")


def person_named(username: str) -> Person:
    """An active person by sign-in name, in whatever case."""
    found = Person.objects.filter(username__iexact=username, is_active=True).first()
    if found is None:
        raise NotThere(what="person")
    return found


def token(key: object) -> BenchToken:
    return _row(BenchToken, key, "token", "person")


def webhook(key: object) -> Webhook:
    return _row(Webhook, key, "webhook")


def notice(key: object) -> Notice:
    return _row(Notice, key, "message", "item", "person", "webhook")


def reindication(key: object) -> Reindication:
    return _row(Reindication, key, "report", "fixture", "by", "job")


def _row(model: type[M], key: object, what: str, *related: str) -> M:
    try:
        rows = model._default_manager.select_related(*related)
        return rows.get(pk=key)
    except (ObjectDoesNotExist, ValueError, TypeError, OverflowError):
        raise NotThere(what=what) from None
