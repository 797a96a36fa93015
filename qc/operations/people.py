"""People and bench tokens: who may use the service, and how far."""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction

from qc.actor import Actor
from qc.errors import AlreadyThere, BadInput, NotAllowed, WeakPassword
from qc.models import BenchToken, Person, Role
from qc.operations import journal
from qc.units import Unit


@transaction.atomic
def add_person(
    *,
    username: str,
    name: str,
    password: str,
    role: Role,
    by: Actor | None,
    at: datetime,
    email: str = "",
    unit: Unit = Unit.MM,
) -> Person:
    """Add a person. `by` is None only for the first lead of an empty shop."""
    if by is None:
        if Person.objects.exists():
            raise NotAllowed(role="visitor", what="add people")
    else:
        by.must_be(Role.LEAD, to="add people")
    username = username.strip()
    if not username:
        raise BadInput(why="Give the person a sign-in name.", fields=("username",))
    if Person.objects.filter(username__iexact=username).exists():
        raise AlreadyThere(what="The sign-in name", name=username, fields=("username",))
    person = Person(
        username=username,
        name=name.strip() or username,
        email=email,
        role=Role(role),
        unit=Unit(unit),
        joined_at=at,
    )
    _set_password(person, password)
    person.save()
    journal.note(
        by, "person.added", subject=person, at=at, after={"username": username, "role": role}
    )
    return person


def _set_password(person: Person, password: str) -> None:
    try:
        validate_password(password, user=person)
    except ValidationError as error:
        raise WeakPassword(why=" ".join(error.messages)) from None
    person.set_password(password)


@transaction.atomic
def change_password(*, person: Person, password: str, by: Actor, at: datetime) -> None:
    """A person changes their own; a lead sets anyone's."""
    if by.person.pk != person.pk:
        by.must_be(Role.LEAD, to="set another person's password")
    _set_password(person, password)
    person.save(update_fields=["password"])
    journal.note(by, "person.password_changed", subject=person, at=at)


@transaction.atomic
def change_person(
    *, person: Person, by: Actor, at: datetime, role: Role, is_active: bool, unit: Unit
) -> Person:
    """A lead changes roles and closes accounts; anyone chooses their own unit."""
    before = {"role": person.role, "is_active": person.is_active, "unit": person.unit}
    after = {"role": Role(role).value, "is_active": is_active, "unit": Unit(unit).value}
    if (before["role"], before["is_active"]) != (after["role"], after["is_active"]):
        by.must_be(Role.LEAD, to="change what a person may do")
        _keep_one_lead(person, role=Role(role), is_active=is_active)
    elif by.person.pk != person.pk:
        by.must_be(Role.LEAD, to="change another person's settings")
    Person.objects.filter(pk=person.pk).update(**after)
    journal.note(by, "person.changed", subject=person, at=at, before=before, after=after)
    person.refresh_from_db()
    return person


def _keep_one_lead(person: Person, *, role: Role, is_active: bool) -> None:
    others = Person.objects.filter(role=Role.LEAD, is_active=True).exclude(pk=person.pk)
    if not (is_active and role == Role.LEAD) and not others.exists():
        raise BadInput(why="The shop needs one active lead. Make another person lead first.")


@transaction.atomic
def make_token(
    *, person: Person, name: str, role: Role, by: Actor, at: datetime
) -> tuple[BenchToken, str]:
    """A bench tool's key, returned in clear this once; only its hash is stored."""
    if by.person.pk != person.pk:
        by.must_be(Role.LEAD, to="make a token for another person")
    if not name.strip():
        raise BadInput(why="Name the bench tool this token is for.", fields=("name",))
    if not by.may(Role(role)):
        raise NotAllowed(role=by.role, what=f"make a token with the reach of a {role}")
    key = f"squish_{secrets.token_urlsafe(32)}"
    token = BenchToken.objects.create(
        name=name.strip(),
        person=person,
        role=Role(role),
        key_hash=hash_of_key(key),
        hint=key[:12],
        made_at=at,
        made_by=by.person,
    )
    journal.note(by, "token.made", subject=token, at=at, after={"name": name, "role": role})
    return token, key


def hash_of_key(key: str) -> str:
    """SHA-256 is enough here: the key is 256 random bits, not a word a person chose."""
    return hashlib.sha256(key.encode()).hexdigest()


@transaction.atomic
def revoke_token(*, token: BenchToken, by: Actor, at: datetime) -> BenchToken:
    if by.person.pk not in (token.person_id, token.made_by_id):
        by.must_be(Role.LEAD, to="revoke another person's token")
    BenchToken.objects.filter(pk=token.pk, revoked_at=None).update(revoked_at=at)
    token.refresh_from_db()
    journal.note(by, "token.revoked", subject=token, at=at)
    return token
