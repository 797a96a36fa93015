"""Who is told when something happens to a flag: one message a recipient, asked for once.

Asked for in the transaction of what happened, each as work of its own, so that a receiver that
fails brings no other message again. qc/operations/sending.py sends them.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from datetime import datetime

from django.db import transaction
from django.db.models import Q

from qc import outbox
from qc.actor import Actor
from qc.delivery import mail
from qc.errors import BadInput
from qc.lookups.flags.notices import mailed_people
from qc.lookups.flags.visible import may_know, named_person
from qc.models import DECISIONS, ENDS, Flag, Happening, Notice, Person, Role, Webhook
from qc.operations import journal


def announce(
    flag: Flag, happening: Happening, *, at: datetime, by: Person | None = None
) -> list[Notice]:
    """Ask for a message to each who is to be told of it and was not asked for before; of a
    decision, each time.

    by: who did it, where a person did; they are not mailed what they know. A flag about a person
    goes by mail to that person and to leads, never to a webhook; one that has come to name a person
    tells a webhook its end, for which a lamp may wait. In the caller's transaction.
    """
    made = [
        _ask(flag, happening, at=at, person=one) for one in _mailed(flag, happening) if one != by
    ]
    made += [_ask(flag, happening, at=at, webhook=one) for one in _webhooks(flag, happening)]
    return [one for one in made if one is not None]


def _mailed(flag: Flag, happening: Happening) -> Iterable[Person]:
    """Nobody where no mail server is set up, which the page about it says."""
    if happening in DECISIONS or not mail.is_set_up():
        return []
    return [one for one in mailed_people() if may_know(flag, Actor(one))]


def _webhooks(flag: Flag, happening: Happening) -> Iterable[Webhook]:
    if flag.person_id is not None:
        return []
    if named_person(flag) is not None and happening not in ENDS:
        return []
    wished = Q(tells_raised=True)
    if happening in ENDS:
        wished = Q(tells_ended=True)
    elif happening in DECISIONS:
        wished = Q(tells_decided=True)
    return Webhook.objects.filter(wished, is_active=True, retired_at=None)


def _ask(
    flag: Flag,
    happening: Happening,
    *,
    at: datetime,
    person: Person | None = None,
    webhook: Webhook | None = None,
) -> Notice | None:
    once = Notice.objects.filter(flag=flag, happening=happening, person=person, webhook=webhook)
    if happening not in DECISIONS and once.exists():
        return None
    return Notice.objects.create(
        flag=flag,
        happening=happening,
        person=person,
        webhook=webhook,
        item=outbox.ask(outbox.TELL, at=at),
        delivery_id=f"msg_{uuid.uuid4().hex}",
        at=at,
    )


@transaction.atomic
def send_again(*, notice: Notice, by: Actor, at: datetime) -> Notice:
    """Try a message again that was given up, as often as the first time."""
    by.must_be(Role.LEAD, to="send a message again")
    if not notice.is_given_up or not outbox.revive(pk=notice.item_id):
        raise BadInput(why="That message was not given up: there is nothing to send again.")
    journal.note(by, "notice.sent_again", subject=notice, at=at)
    notice.refresh_from_db()
    return notice
