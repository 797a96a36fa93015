"""Who is told about flags, and what became of each message."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Case, Count, F, Q, QuerySet, When

from qc.actor import Actor
from qc.lookups.flags.lines import FlagLine, told_name
from qc.lookups.flags.told import RELATED as OF_FLAG
from qc.lookups.flags.told import flag_lines
from qc.models import (
    ENDS,
    OPEN_FLAG,
    Flag,
    Happening,
    JournalEntry,
    Notice,
    Person,
    Webhook,
)

LISTED = 20
RELATED = ("item", "person", "webhook")


def mailed_people() -> QuerySet[Person]:
    """Those who get e-mail about flags, about which ones is another question."""
    return Person.objects.filter(is_active=True, gets_flag_mail=True).exclude(email="")


def webhooks() -> QuerySet[Webhook]:
    """Those in use by name, then the retired; each with how many messages it never took."""
    untaken = Q(notices__sent_at=None, notices__needless="", notices__item__dead_at__isnull=False)
    given_up = Count("notices", filter=untaken)
    found = Webhook.objects.annotate(given_up=given_up)
    return found.order_by(F("retired_at").desc(nulls_first=True), "name")


@dataclass(frozen=True)
class NoticeLine:
    """about: whom or what the flag names; of a set, that it is one of so many."""

    notice: Notice
    about: str


def newest_notices(by: Actor, *, webhook: Webhook | None = None) -> list[NoticeLine]:
    """Those given up before the rest, so that each can be sent again however old it is."""
    given_up = When(sent_at=None, needless="", item__dead_at__isnull=False, then=0)
    found = Notice.objects.select_related(*RELATED).order_by(Case(given_up, default=1), "-pk")
    rows = (found if webhook is None else found.filter(webhook=webhook))[:LISTED]
    flags = Flag.objects.filter(pk__in={one.flag_id for one in rows}).select_related(*OF_FLAG)
    about = {one.flag.pk: _about(one) for one in flag_lines(flags, by)}
    return [NoticeLine(one, about[one.flag_id]) for one in rows]


def _about(line: FlagLine) -> str:
    if line.named is not None:
        return told_name(line.named)
    return f"one of {len(line.suspects)}, {told_name(line.suspects[0])} the likeliest"


def mail_journal() -> QuerySet[JournalEntry]:
    """Who changed who gets e-mail, newest first."""
    return _entries().filter(action="person.mail_changed")


def webhook_journal(webhook: Webhook) -> QuerySet[JournalEntry]:
    return _entries().filter(subject=f"Webhook {webhook.pk}")


def _entries() -> QuerySet[JournalEntry]:
    return JournalEntry.objects.select_related("person", "token").order_by("-pk")


def is_told(notice: Notice) -> bool:
    """Whether its recipient was told of this move and has not been told of its end since.

    A move that was withdrawn and is found again by the same job is another flag but the same news.
    """
    heard = Notice.objects.filter(
        person=notice.person_id,
        webhook=notice.webhook_id,
        sent_at__isnull=False,
        flag__in=_same_move(notice.flag),
        happening__in=[Happening.RAISED, *ENDS],
    )
    newest = heard.order_by("-sent_at", "-pk").first()
    return newest is not None and newest.happening == Happening.RAISED


def raised_is_on_its_way(notice: Notice) -> bool:
    """Whether its recipient may still be told of the flag itself: an end must not overtake it."""
    return Notice.objects.filter(
        flag=notice.flag_id,
        happening=Happening.RAISED,
        person=notice.person_id,
        webhook=notice.webhook_id,
        sent_at=None,
        needless="",
        item__dead_at=None,
    ).exists()


def stands_again(flag: Flag) -> bool:
    """Whether the move that this flag told of is flagged now, perhaps under another number."""
    return _same_move(flag).filter(state__in=OPEN_FLAG).exists()


def _same_move(flag: Flag) -> QuerySet[Flag]:
    return Flag.objects.filter(
        channel=flag.channel,
        raised_by=flag.raised_by_id,
        **{f"{flag.about_kind}_id": flag.about_id},
    )
