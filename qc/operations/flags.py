"""The life of a flag: raised by the drift watch, looked into, closed by hand or by service."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import Q

from qc.actor import Actor
from qc.errors import BadInput, ReasonNeeded
from qc.lookups.charts.kept_charts import place_of
from qc.lookups.flags.lines import MODELS
from qc.lookups.flags.suspected import (
    Thing,
    likely,
    suspects_of,
)
from qc.lookups.flags.visible import visible_to
from qc.lookups.watch.drift_jobs import rounds_of
from qc.lookups.watch.kept_drift import Standing
from qc.models import (
    FOUND,
    OPEN_FLAG,
    ChartKind,
    DriftChannel,
    Flag,
    FlagState,
    Happening,
    Resource,
    Role,
    Round,
    StoredChart,
)
from qc.numerics.drift import Move, Watch
from qc.numerics.drift.suspects import COULD_WELL_BE
from qc.operations import decisions, journal
from qc.operations.flag_ends import end, found_in_order, hold_watch
from qc.operations.notices import announce
from qc.outbox import ask


def settle(standing: Sequence[Standing], *, watch: Watch, at: datetime) -> None:
    """Raise what the watch stands by, bring open flags to what is known now, and withdraw those
    that the watch no longer bears. In the caller's transaction, which holds the watch.

    One open flag a resource and channel: while one stands, further jobs raise no other. What an
    open flag could well be about waits for that flag: it is one story, told once. Nobody need
    be told of what is retired.
    """
    open_now = {
        (one.channel, one.about_kind, one.about_id): one
        for one in Flag.objects.filter(state__in=OPEN_FLAG)
    }
    rounds = _rounds_of(standing)
    told: set[tuple[str, str, int]] = set()
    for one in standing:
        flag = open_now.pop((one.channel, one.kind, one.key), None)
        if flag is None and ((one.channel, one.kind, one.key) in told or _is_retired(one)):
            continue
        if flag is None:
            decisions.recommend(_raise(one, rounds, at=at), watch=watch, at=at)
        else:
            Flag.objects.filter(pk=flag.pk).update(**_believed(one, rounds))
        told |= {
            (one.channel, each["kind"], each["key"])
            for each in one.suspects
            if (each["probability"] or 0.0) >= COULD_WELL_BE
        }
    for flag in open_now.values():
        _withdraw(flag, at=at)


def _is_retired(one: Standing) -> bool:
    about = MODELS[one.kind]._default_manager.get(pk=one.key)
    return isinstance(about, Resource) and about.is_retired


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
            **_how_far(one.move, one.channel),
        },
    )
    announce(flag, Happening.RAISED, at=at)
    return flag


def _how_far(move: Move, channel: str) -> dict[str, float]:
    """As closely as a reader of the record can use."""
    if channel == DriftChannel.SPREAD:
        return {"spread_ratio": round(math.exp(move.size / 2), 2)}
    told = {"size_mm": round(move.size, 4)}
    if move.direction_deg is not None:
        told["wide_toward_deg"] = round(move.direction_deg) % 360
    return told


def _withdraw(flag: Flag, *, at: datetime) -> None:
    why = "The readings and limits now in force no longer show a move."
    Flag.objects.filter(pk=flag.pk).update(state=FlagState.WITHDRAWN, closed_at=at, note=why)
    journal.note(
        None,
        "flag.withdrawn",
        subject=flag,
        at=at,
        before={"state": flag.state, "statistic": flag.statistic, "limit": flag.limit},
        after={"state": FlagState.WITHDRAWN},
        why=why,
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
    cause: Thing | None = None,
    looked_at: Collection[Thing] | None = None,
) -> Flag:
    """Say what was found, and close the flag with it.

    With a cause found every open flag about what it lay in closes too, and what was known of its
    bias holds no longer; cause: which of the suspects, where that is known, else it is taken for
    the one the flag is about; kept on those of the flags that suspect it. With none, what was
    looked at is in order and judged afresh; looked_at: those of the suspects, or all the likely
    ones where it is None. The flag stays open while a likely suspect remains that nobody looked at.
    """
    by.must_be(Role.LEAD, to="close a flag")
    state = FlagState(state)
    if state not in FOUND:
        raise BadInput(why="Close a flag as cause found or no cause found.", fields=("state",))
    if not why.strip():
        raise ReasonNeeded(what="Closing a flag")
    is_found = state == FlagState.CAUSE_FOUND
    if looked_at is not None and is_found:
        why_not = "Say which suspects were looked at only where no cause was found."
        raise BadInput(why=why_not, fields=("looked_at",))
    if cause is not None and not is_found:
        raise BadInput(why="Say where the cause lay only where one was found.", fields=("cause",))
    hold_watch()
    flag.refresh_from_db()
    if not flag.is_open:
        raise BadInput(why="That flag is closed already.")
    suspects = suspects_of(flag)
    if cause is not None and cause not in suspects:
        raise BadInput(why="Name one of the flag's suspects as the cause.", fields=("cause",))
    if is_found:
        told = {cause or (flag.about_kind, flag.about_id)}
        _close_found(flag, cause, by=by, at=at, why=why.strip())
    else:
        told = likely(flag) if looked_at is None else set(looked_at)
        if not told or told - suspects:
            raise BadInput(
                why="Say which of the flag's suspects were looked at.", fields=("looked_at",)
            )
        found_in_order(sorted(told), by=by, at=at, note=why.strip(), of=flag)
    for kind, key in sorted(told):
        ask("qc.follow_restart", at=at, kind=kind, key=key, since=at.isoformat())
    flag.refresh_from_db()
    return flag


def _close_found(flag: Flag, cause: Thing | None, *, by: Actor, at: datetime, why: str) -> None:
    """This flag, and the others about what the cause lay in: it is set right for all of them."""
    kind, key = cause or (flag.about_kind, flag.about_id)
    about = Q(**{f"{kind}_id": key}) | Q(pk=flag.pk)
    for one in Flag.objects.filter(about, state__in=OPEN_FLAG):
        own = cause if cause in suspects_of(one) else None
        end(one, FlagState.CAUSE_FOUND, by=by, at=at, note=why, cause=own)
