"""How a flag ends: by a service, by what was found to be in order, by retiring what it is about."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime

from django.db import transaction

from qc.actor import Actor
from qc.errors import BadInput, ReasonNeeded
from qc.lookups.flags.suspected import (
    Thing,
    concerning,
    ended_by_retiring,
    suspects_of,
    unchecked,
)
from qc.models import (
    FOUND,
    OPEN_FLAG,
    CauseFound,
    ChartKind,
    Finding,
    Flag,
    FlagCheck,
    FlagState,
    Happening,
    Resource,
    Role,
    ServiceEvent,
    StoredChart,
)
from qc.operations import journal
from qc.operations.notices import announce


def hold_watch() -> None:
    """Wait for a worker that steps the watch, and keep others out to the end of the transaction:
    what closes a flag must not come between its reading the past and its raising flags."""
    list(StoredChart.objects.select_for_update().filter(kind=ChartKind.DRIFT).values_list("pk"))


def end(
    flag: Flag,
    state: FlagState,
    *,
    by: Actor,
    at: datetime,
    note: str = "",
    service: ServiceEvent | None = None,
    cause: Thing | None = None,
) -> None:
    """Close it, unless somebody did. In the caller's transaction, which holds the watch.

    at: when that is put on record; it closes at the time of the service where one ends it.
    """
    closed_at = at if service is None else service.at
    kept = {} if cause is None else {"cause_kind": cause[0], "cause_id": cause[1]}
    closed = Flag.objects.filter(pk=flag.pk, state__in=OPEN_FLAG).update(
        state=state, closed_at=closed_at, closed_by=by.person, note=note, service=service, **kept
    )
    if not closed:
        return
    serviced = {} if service is None else {"service": service.pk}
    journal.note(
        by,
        f"flag.{state}",
        subject=flag,
        at=at,
        before={"state": flag.state},
        after={"state": state, **serviced, **kept},
        why=note,
    )
    announce(flag, Happening(f"flag.{state}"), at=at, by=by.person)


def end_by_service(event: ServiceEvent, *, found: CauseFound, by: Actor, at: datetime) -> None:
    """What a service says of every open flag that what was serviced may be what it is about.

    found: see CauseFound. Here: they close with the cause in it. In order: those that nothing else
    is left of close with no cause found, and the others stay open. To be seen: they stay open, and
    the jobs after it tell. Not known: they are cleared, whichever suspect was serviced. by, at: who
    says so, and when. In the service's own transaction.
    """
    hold_watch()
    thing = event.about
    flags = concerning(thing, by_then=event.at)
    if not flags and found != CauseFound.NOT_KNOWN:
        raise BadInput(
            why="No open flag suspects it, so there is no cause to tell: leave that answer out.",
            fields=("found",),
        )
    if found == CauseFound.IN_ORDER:
        found_in_order([thing], by=by, at=at, note=event.note, service=event)
        return
    if found == CauseFound.TO_BE_SEEN:
        for flag in flags:
            journal.note(
                by,
                "flag.tried",
                subject=flag,
                at=at,
                after={"service": event.pk},
                why=event.note,
            )
        return
    is_here = found == CauseFound.HERE
    for flag in flags:
        end(
            flag,
            FlagState.CAUSE_FOUND if is_here else FlagState.CLEARED,
            by=by,
            at=at,
            note=event.note if is_here else "",
            service=event,
            cause=thing if is_here else None,
        )


def found_in_order(
    things: Collection[Thing],
    *,
    by: Actor,
    at: datetime,
    note: str,
    service: ServiceEvent | None = None,
    of: Flag | None = None,
) -> None:
    """Keep that these were looked at and in order on every open flag that may well be about one of
    them, and on `of`. A flag with no other likely suspect left closes with no cause found.

    by, at: who says so, and when. Where a service showed it, whoever did that looked, then.
    """
    looked_at = at if service is None else service.at
    looked = by.person if service is None else service.by
    flags = concerning(*things, by_then=looked_at)
    for flag in flags if of is None or of in flags else [of, *flags]:
        suspects = suspects_of(flag)
        own = [one for one in things if one in suspects or one == (flag.about_kind, flag.about_id)]
        for kind, key in own:
            FlagCheck.objects.create(
                flag=flag, kind=kind, key=key, at=looked_at, by=looked, note=note, service=service
            )
        if unchecked(flag):
            told = [f"{kind} {key}" for kind, key in own]
            journal.note(
                by, "flag.checked", subject=flag, at=at, after={"in_order": told}, why=note
            )
        else:
            end(flag, FlagState.NONE_FOUND, by=by, at=at, note=note, service=service)


def withdraw_retired(resource: Resource, *, by: Actor, at: datetime, why: str) -> None:
    """A thing that is out of use is flagged no longer. In the transaction that retires it."""
    hold_watch()
    for flag in ended_by_retiring(resource):
        end(flag, FlagState.WITHDRAWN, by=by, at=at, note=f"{resource.name} was retired: {why}")


@transaction.atomic
def say_finding(
    *,
    flag: Flag,
    state: FlagState,
    why: str,
    by: Actor,
    at: datetime,
    cause: Thing | None = None,
) -> Finding:
    """Say afterwards what came of a flag that a service cleared, or correct that. It counts in the
    score; the watch keeps what it was told then.

    cause: the suspect a cause lay in, kind and key; needed with one found.
    """
    by.must_be(Role.LEAD, to="say what came of a flag")
    state = FlagState(state)
    if state not in FOUND:
        raise BadInput(why="Say that a cause was found, or that none was.", fields=("state",))
    if not why.strip():
        raise ReasonNeeded(what="What came of a flag")
    # Locked, so that two leads' words come one after the other.
    flag = Flag.objects.select_for_update(of=("self",)).get(pk=flag.pk)
    if flag.state != FlagState.CLEARED:
        raise BadInput(why="Only of a flag that a service cleared is there more to say.")
    suspects = suspects_of(flag)
    if (state == FlagState.CAUSE_FOUND) != (cause is not None):
        raise BadInput(
            why="Say in which suspect the cause lay where one was found, and only there.",
            fields=("cause",),
        )
    if cause is not None and cause not in suspects | {_serviced(flag)}:
        raise BadInput(why="Name one of the flag's suspects as the cause.", fields=("cause",))
    kind, key = cause or ("", None)
    before = Finding.objects.filter(flag=flag).values("state", "cause_kind", "cause_id").first()
    told = {"state": state, "cause_kind": kind, "cause_id": key}
    made, _ = Finding.objects.update_or_create(
        flag=flag, defaults={**told, "at": at, "by": by.person, "note": why.strip()}
    )
    journal.note(by, "flag.finding", subject=flag, at=at, before=before, after=told, why=why)
    return made


def _serviced(flag: Flag) -> Thing | None:
    return None if flag.service is None else flag.service.about
