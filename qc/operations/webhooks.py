"""Setting who is told about flags: the shop's webhooks, and who gets e-mail. Leads only."""

from __future__ import annotations

import uuid
from copy import copy
from datetime import datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import IntegrityError, transaction
from django.db.models import F

from qc import outbox
from qc.actor import Actor
from qc.delivery import check_address, mail, new_secret
from qc.errors import AlreadyThere, BadInput, ChangedMeanwhile, NotDelivered, ReasonNeeded, Retired
from qc.lookups.flags.webhook_body import trial_body
from qc.models import Person, Role, Webhook
from qc.operations import journal
from qc.operations.sending import TAKEN_BY_MAIL, post_signed

TO = "change who is told about flags"
COLUMNS = ("name", "url", "is_active", "tells_raised", "tells_ended", "tells_decided")


@transaction.atomic
def add_webhook(*, by: Actor, at: datetime, **columns: Any) -> Webhook:
    """A new one with a secret of its own, which is shown to a lead once. columns: of COLUMNS."""
    by.must_be(Role.LEAD, to=TO)
    webhook = Webhook(**columns, secret=new_secret(), made_at=at)
    _check(webhook)
    try:
        with transaction.atomic():
            webhook.save()
    except IntegrityError:  # somebody took the name since it was looked up
        raise _name_taken(webhook) from None
    journal.note(by, "webhook.added", subject=webhook, at=at, after=_told(webhook))
    return webhook


@transaction.atomic
def change_webhook(
    *, webhook: Webhook, by: Actor, at: datetime, expected_version: int, **changes: Any
) -> Webhook:
    """Raises ChangedMeanwhile if someone was first. The secret stays."""
    by.must_be(Role.LEAD, to=TO)
    _in_use(webhook)
    wanted = copy(webhook)
    for name, value in changes.items():
        setattr(wanted, name, value)
    _check(wanted)
    before = {name: getattr(webhook, name) for name in changes}
    after = {name: getattr(wanted, name) for name in changes}
    same = Webhook.objects.filter(pk=webhook.pk, version=expected_version, retired_at=None)
    try:
        with transaction.atomic():
            changed = same.update(version=F("version") + 1, **after)
    except IntegrityError:
        raise _name_taken(wanted) from None
    webhook.refresh_from_db()
    if not changed:
        raise ChangedMeanwhile(what=webhook, seen=expected_version, now=webhook.version)
    if not webhook.is_told:
        outbox.revive(notice__webhook=webhook)
    journal.note(by, "webhook.changed", subject=webhook, at=at, before=before, after=after)
    return webhook


@transaction.atomic
def retire_webhook(*, webhook: Webhook, by: Actor, at: datetime, why: str) -> Webhook:
    """It is told nothing from now on. What was sent stays on record; what was given up is looked at
    once more and found needless, so that nobody is asked to send it again."""
    by.must_be(Role.LEAD, to=TO)
    if not why.strip():
        raise ReasonNeeded(what="Retiring a webhook")
    standing = Webhook.objects.filter(pk=webhook.pk, retired_at=None)
    done = standing.update(retired_at=at, version=F("version") + 1)
    webhook.refresh_from_db()
    if not done:
        _in_use(webhook)
    outbox.revive(notice__webhook=webhook)
    journal.note(by, "webhook.retired", subject=webhook, at=at, why=why.strip())
    return webhook


@transaction.atomic
def set_mail(*, person: Person, email: str, gets_flag_mail: bool, by: Actor, at: datetime) -> None:
    """Whether a person gets e-mail about flags, and where."""
    by.must_be(Role.LEAD, to=TO)
    email = email.strip()
    after = {"email": email, "gets_flag_mail": gets_flag_mail}
    if email:
        try:
            validate_email(email)
        except ValidationError:
            raise BadInput(
                why="Write an address such as lena@shop.example.", fields=("email",)
            ) from None
    elif gets_flag_mail:
        raise BadInput(why="Give the address to write to.", fields=("email",))
    before = {"email": person.email, "gets_flag_mail": person.gets_flag_mail}
    Person.objects.filter(pk=person.pk).update(**after)
    if not gets_flag_mail:
        outbox.revive(notice__person=person)
    told = {"name": person.name, **after}
    journal.note(by, "person.mail_changed", subject=person, at=at, before=before, after=told)
    person.refresh_from_db()


def try_webhook(*, webhook: Webhook, by: Actor, at: datetime) -> str:
    """Send a test now and wait for it; what was answered. Raises NotDelivered.

    Not through the outbox: a lead stands there and wants to see what comes of it.
    """
    by.must_be(Role.LEAD, to=TO)
    _in_use(webhook)
    message_id = f"msg_{uuid.uuid4().hex}"
    answer = post_signed(webhook, trial_body(at=at), message_id=message_id, at=at)
    if not answer.is_taken:
        raise NotDelivered(why=answer)
    return str(answer)


def try_mail(*, by: Actor, shop_name: str) -> str:
    """Send a test to the lead who asks, now. Raises NotDelivered."""
    by.must_be(Role.LEAD, to=TO)
    if not mail.is_set_up():
        raise BadInput(why="No mail server is set up.")
    if not by.person.email:
        raise BadInput(why="You have no e-mail address here. Set one first.")
    mail.send_mail(
        to=by.person.email,
        subject=f"A test from {shop_name}",
        text=f"This is a test. E-mail about flags from {shop_name} will reach you here.\n",
        message_id=f"msg_{uuid.uuid4().hex}",
    )
    return TAKEN_BY_MAIL


def _check(webhook: Webhook) -> None:
    webhook.name = webhook.name.strip()
    webhook.url = webhook.url.strip()
    if not webhook.name:
        raise BadInput(why="Give the webhook a name.", fields=("name",))
    check_address(webhook.url)
    if not (webhook.tells_raised or webhook.tells_ended or webhook.tells_decided):
        raise BadInput(why="Tick at least one thing it is told.", fields=("tells_raised",))
    others = Webhook.objects.filter(name__iexact=webhook.name, retired_at=None)
    if others.exclude(pk=webhook.pk).exists():
        raise _name_taken(webhook)


def _name_taken(webhook: Webhook) -> AlreadyThere:
    return AlreadyThere(what="A webhook called", name=webhook.name, fields=("name",))


def _in_use(webhook: Webhook) -> None:
    if webhook.is_retired:
        raise Retired(what="The webhook", name=webhook.name)


def _told(webhook: Webhook) -> dict[str, object]:
    return {name: getattr(webhook, name) for name in COLUMNS}
