"""Sending one message about a flag, with no transaction open while its receiver is waited for.

Three steps: take the message for a minute, so that two workers do not both send it; send it; write
down what came of it. The first and the last are short transactions of their own. Where the process
ends between the last two, the message goes out again under the same id: at least once, never lost.
"""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.db import transaction
from django.db.models import F, Q
from django.utils import timezone

from qc.actor import Actor
from qc.delivery import Answer, mail, post, signed_headers
from qc.errors import NotDelivered
from qc.lookups.flags.notice_words import letter
from qc.lookups.flags.notices import (
    is_told,
    raised_is_on_its_way,
    stands_again,
)
from qc.lookups.flags.told import RELATED, flag_line
from qc.lookups.flags.visible import (
    anybody,
    may_know,
    named_person,
)
from qc.lookups.flags.webhook_body import webhook_body
from qc.lookups.shop.policy import shop_policy
from qc.models import ENDS, Flag, Happening, Notice, OutboxItem, Webhook

TAKEN_FOR = timedelta(seconds=60)  # Longer than one try: see qc.delivery.web and EMAIL_TIMEOUT.
TAKEN_BY_MAIL = "The mail server took it."


def tell(item: OutboxItem, *, at: datetime) -> bool:
    """Send the message this work is for; whether it is settled, or waits for another. at: of this
    try.

    Raises NotDelivered, after writing down why, where its receiver did not take it.
    """
    notice = Notice.objects.select_related("person", "webhook").get(item=item)
    if notice.sent_at is not None or notice.needless:
        return True
    notice.flag = Flag.objects.select_related(*RELATED).get(pk=notice.flag_id)
    if notice.happening != Happening.RAISED and raised_is_on_its_way(notice):
        return False
    why_not = _why_not(notice)
    if why_not:
        _note(notice, needless=why_not)
        return True
    if not _take(notice, at=at):
        return False
    try:
        answer = _send_mail(notice) if notice.webhook is None else _post(notice, at=at)
    except NotDelivered as refusal:
        _note(notice, last_answer=str(refusal), sending_until=None)
        raise
    _note(notice, last_answer=answer, sent_at=timezone.now(), sending_until=None)
    return True


def _why_not(notice: Notice) -> str:
    """Why nobody need be told of it any more; empty where they are to be told."""
    person, webhook, flag = notice.person, notice.webhook, notice.flag
    if webhook is not None and (not webhook.is_told or flag.person_id is not None):
        return "the webhook was switched off"
    is_end = notice.happening in ENDS
    if webhook is not None and named_person(flag) is not None and not is_end:
        return "it has come to name a person"
    if person is not None:
        if not (person.is_active and person.gets_flag_mail and person.email):
            return "e-mail about flags was switched off"
        if not mail.is_set_up():
            return "no mail server is set up"
        if not may_know(flag, Actor(person)):
            return "it is no longer theirs to see"
    if notice.happening == Happening.RAISED:
        if not flag.is_open:
            return "the flag was closed before it was sent"
        return "they know of it already" if is_told(notice) else ""
    if is_end and stands_again(flag):
        return "the same move is flagged again"
    hears_of_all = webhook is None or webhook.tells_raised
    return "they were not told of the flag" if hears_of_all and not is_told(notice) else ""


def _take(notice: Notice, *, at: datetime) -> bool:
    """Whether this worker is the one to send it now."""
    free = Q(sending_until=None) | Q(sending_until__lt=at)
    with transaction.atomic(durable=True):
        taken = Notice.objects.filter(free, pk=notice.pk, sent_at=None).update(
            sending_until=at + TAKEN_FOR, tries=F("tries") + 1
        )
    return bool(taken)


def _note(notice: Notice, **facts: object) -> None:
    with transaction.atomic(durable=True):
        Notice.objects.filter(pk=notice.pk).update(**facts)


def _send_mail(notice: Notice) -> str:
    person = notice.person
    assert person is not None
    policy = shop_policy()
    with timezone.override(ZoneInfo(policy.time_zone)):
        told = letter(
            Happening(notice.happening),
            flag_line(notice.flag, Actor(person)),
            unit=person.unit,
            shop_name=policy.shop_name,
        )
    mail.send_mail(
        to=person.email, subject=told.subject, text=told.text, message_id=notice.delivery_id
    )
    return TAKEN_BY_MAIL


def _post(notice: Notice, *, at: datetime) -> str:
    assert notice.webhook is not None
    line = flag_line(notice.flag, anybody())
    body = webhook_body(Happening(notice.happening), line, at=notice.at)
    answer = post_signed(notice.webhook, body, message_id=notice.delivery_id, at=at)
    if not answer.is_taken:
        raise NotDelivered(why=answer)
    return str(answer)


def post_signed(webhook: Webhook, told: object, *, message_id: str, at: datetime) -> Answer:
    """POST what is told as JSON, signed with the webhook's secret."""
    body = json.dumps(told, separators=(",", ":")).encode()
    signed = signed_headers(
        webhook.secret, message_id=message_id, timestamp=int(at.timestamp()), body=body
    )
    common = {"Content-Type": "application/json", "User-Agent": "Squish-Ledger"}
    return post(webhook.url, body=body, headers={**common, **signed})
