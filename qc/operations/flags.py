"""The life of a flag: raised by the drift watch, looked into, closed by hand or by service."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db import transaction

from qc.actor import Actor
from qc.errors import BadInput, ReasonNeeded
from qc.lookups.drift_jobs import rounds_of
from qc.lookups.flags import visible_to
from qc.lookups.kept_charts import place_of
from qc.lookups.kept_drift import Standing
from qc.models import (
    ABOUT,
    OPEN_FLAG,
    ChartKind,
    Flag,
    FlagState,
    Happening,
    Role,
    Round,
    ServiceEvent,
    StoredChart,
)
from qc.numerics.drift import Watch
from qc.operations import decisions, journal
from qc.operations.notices import announce
from qc.outbox import ask

FOUND = (FlagState.CAUSE_FOUND, FlagState.NONE_FOUND)


def settle(standing: Sequence[Standing], *, watch: Watch, at: datetime) -> None:
    """Raise what the watch stands by, bring open flags to what is known now, and withdraw those
    that the watch no longer bears. In the caller's transaction, which holds the watch.

    One open flag a resource and channel: while one stands, further jobs raise no other. What an
    open flag holds among its suspects waits for that flag: it is one story, told once.
    """
    open_now = {
        (one.channel, one.about_kind, one.about_id): one
        for one in Flag.objects.filter(state__in=OPEN_FLAG)
    }
    rounds = _rounds_of(standing)
    told: set[tuple[str, str, int]] = set()
    for one in standing:
        flag = open_now.pop((one.channel, one.kind, one.key), None)
        if flag is None and (one.channel, one.kind, one.key) in told:
            continue
        if flag is None:
            decisions.recommend(_raise(one, rounds, at=at), watch=watch, at=at)
        else:
            Flag.objects.filter(pk=flag.pk).update(**_believed(one, rounds))
        told |= {(one.channel, each["kind"], each["key"]) for each in one.suspects}
    for flag in open_now.values():
        _withdraw(flag, at=at)


def hold_watch() -> None:
    """Wait for a worker that steps the watch, and keep others out to the end of the transaction:
    what closes a flag must not come between its reading the past and its raising flags."""
    list(StoredChart.objects.select_for_update().filter(kind=ChartKind.DRIFT).values_list("pk"))


def _rounds_of(standing: Sequence[Standing]) -> dict[int, int]:
    """The round of every job of the watch that these flags speak of."""
    moves = [one.move for one in standing]
    numbers = {n for one in moves for n in (one.onset_job, one.earliest_job, one.latest_job)}
    if not numbers:
        return {}
    chart = StoredChart.objects.only("jobs", "at", "result").get(kind=ChartKind.DRIFT)
    newest = place_of(chart)
    assert newest is not None
    return rounds_of(numbers, of=chart.jobs, newest=newest)


def _believed(one: Standing, rounds: dict[int, int]) -> dict[str, Any]:
    """A flag's columns that follow what the watch believes now."""
    return {
        "moved_at_id": rounds[one.move.onset_job],
        "moved_from_id": rounds[one.move.earliest_job],
        "moved_to_id": rounds[one.move.latest_job],
        "size": one.move.size,
        "size_u": one.move.size_u,
        "wide_toward_deg": one.move.direction_deg,
        "ramp_probability": one.move.ramp_probability,
        "suspects": list(one.suspects),
    }


def _raise(one: Standing, rounds: dict[int, int], *, at: datetime) -> Flag:
    raised_by = Round.objects.select_related("job").get(pk=one.round_id)
    flag = Flag.objects.create(
        channel=one.channel,
        raised_at=at,
        raised_by=raised_by,
        statistic=one.evidence,
        limit=one.threshold,
        **{f"{one.kind}_id": one.key},
        **_believed(one, rounds),
    )
    # Whose technique it is stays out of the job's record, which everybody reads.
    journal.note(
        None,
        "flag.raised",
        subject=flag,
        job=None if one.kind == "person" else raised_by.job,
        at=at,
        after={
            **({} if one.kind == "person" else {one.kind: flag.about.name}),
            "channel": one.channel,
            "size": flag.size,
            "wide_toward_deg": flag.wide_toward_deg,
        },
    )
    announce(flag, Happening.RAISED, at=at)
    return flag


def _withdraw(flag: Flag, *, at: datetime) -> None:
    Flag.objects.filter(pk=flag.pk).update(state=FlagState.WITHDRAWN, closed_at=at)
    journal.note(
        None,
        "flag.withdrawn",
        subject=flag,
        at=at,
        before={"state": flag.state, "statistic": flag.statistic, "limit": flag.limit},
        after={"state": FlagState.WITHDRAWN},
        why="The readings and limits now in force no longer show a move.",
    )
    announce(flag, Happening.WITHDRAWN, at=at)


@transaction.atomic
def look_into(*, flag: Flag, by: Actor, at: datetime) -> Flag:
    """Say that someone is looking at what it is about."""
    by.must_be(Role.OPERATOR, to="look into a flag")
    moved = (Flag.objects.filter(visible_to(by), pk=flag.pk, state=FlagState.RAISED)).update(
        state=FlagState.LOOKED_INTO
    )
    if not moved:
        raise BadInput(why="That flag is not waiting to be looked into.")
    journal.note(
        by, "flag.looked_into", subject=flag, at=at, after={"state": FlagState.LOOKED_INTO}
    )
    flag.refresh_from_db()
    return flag


@transaction.atomic
def close_flag(
    *,
    flag: Flag,
    state: FlagState,
    why: str,
    by: Actor,
    at: datetime,
    cause: tuple[str, int] | None = None,
) -> Flag:
    """Close a flag with what was found, and with it every open flag on the same resource.

    cause: which of the flag's suspects the cause lay in, kind and key, where that is known; kept on
    those of the flags that suspect it.
    With a cause found, what was known of its bias holds no longer; with none, it is judged afresh.
    """
    by.must_be(Role.LEAD, to="close a flag")
    state = FlagState(state)
    if state not in FOUND:
        raise BadInput(why="Close a flag as cause found or no cause found.", fields=("state",))
    if not why.strip():
        raise ReasonNeeded(what="Closing a flag")
    if cause is not None and state != FlagState.CAUSE_FOUND:
        raise BadInput(why="Say where the cause lay only where one was found.", fields=("cause",))
    hold_watch()
    kind, key = flag.about_kind, flag.about_id
    standing = list(Flag.objects.filter(**{f"{kind}_id": key}, state__in=OPEN_FLAG))
    if flag not in standing:
        raise BadInput(why="That flag is closed already.")
    if cause is not None and cause not in _suspects_of(standing[standing.index(flag)]):
        raise BadInput(why="Name one of the flag's suspects as the cause.", fields=("cause",))
    for one in standing:
        kept = {}
        if cause is not None and cause in _suspects_of(one):
            kept = {"cause_kind": cause[0], "cause_id": cause[1]}
        closed = Flag.objects.filter(pk=one.pk, state__in=OPEN_FLAG).update(
            state=state, closed_at=at, closed_by=by.person, note=why.strip(), **kept
        )
        if closed:
            after = {"state": state, **kept}
            journal.note(by, f"flag.{state}", subject=one, at=at, after=after, why=why)
            announce(one, Happening(f"flag.{state}"), at=at, by=by.person)
    ask("qc.follow_restart", at=at, kind=kind, key=key, since=at.isoformat())
    flag.refresh_from_db()
    return flag


def _suspects_of(flag: Flag) -> set[tuple[str, int]]:
    return {(one["kind"], one["key"]) for one in flag.suspects}


def clear_by_service(event: ServiceEvent) -> None:
    """A service clears the open flags of what was serviced; in the service's own transaction."""
    hold_watch()
    about = {name: getattr(event, name) for name in ABOUT if getattr(event, name, None) is not None}
    for flag in Flag.objects.filter(**about, state__in=OPEN_FLAG):
        Flag.objects.filter(pk=flag.pk, state__in=OPEN_FLAG).update(
            state=FlagState.CLEARED, closed_at=event.at, closed_by=event.by, service=event
        )
        journal.note(
            Actor(event.by),
            "flag.cleared",
            subject=flag,
            at=event.at,
            before={"state": flag.state},
            after={"state": FlagState.CLEARED, "service": event.pk},
        )
        announce(flag, Happening.CLEARED, at=event.at, by=event.by)
