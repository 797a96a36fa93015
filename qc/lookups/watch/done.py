"""What was done about the shop's things, as the drift watch is told of it: services, what was found
in order, how flags were closed, what went out of use."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import NamedTuple

from django.db.models import Q

from qc.lookups.watch.drift_jobs import services_after
from qc.models import (
    Fixture,
    Flag,
    FlagCheck,
    FlagState,
    Gauge,
    Lathe,
    ServiceEvent,
    ToolEdge,
)
from qc.numerics.drift import Event
from qc.numerics.drift.jobs import What
from qc.numerics.drift.suspects import COULD_WELL_BE

# The watch speaks of an operator where the shop's tables have a person.
IN_WATCH = {"person": "operator"}
IN_SHOP = {"operator": "person"}
STORIES_FIRST: tuple[What, ...] = (
    *("ruled_out", "mended", "closed", "checked", "serviced"),
    "renewed",
)
RETIRABLE = {"fixture": Fixture, "lathe": Lathe, "edge": ToolEdge, "gauge": Gauge}
CLOSED_BY_PEOPLE = Q(
    state__in=(FlagState.CAUSE_FOUND, FlagState.NONE_FOUND, FlagState.CLEARED)
) | Q(state=FlagState.WITHDRAWN, closed_by__isnull=False)


class Done(NamedTuple):
    """Something that sets a resource right, or finds it in order. what, channel: as numerics'
    Event."""

    at: datetime
    kind: str
    key: int
    what: What
    channel: str | None = None

    def before(self, job: int) -> Event:
        return Event(job, self.kind, self.key, self.what, self.channel)


def is_renewed(done: Done) -> bool:
    """By a service of its own, or a cause found in it; not as one of several it could have been."""
    return done.what in ("serviced", "renewed") and done.channel is None


def done_after(after: datetime | None) -> list[Done]:
    """What was done to resources after a time, in order: suspects found in order, flags closed,
    things retired, and services. What one moment brings counts stories before resources: a service
    forgets what a story rests on."""
    checks = FlagCheck.objects.select_related("flag").order_by("at", "pk")
    flags = Flag.objects.filter(CLOSED_BY_PEOPLE).order_by("closed_at", "pk")
    if after is not None:
        checks, flags = checks.filter(at__gt=after), flags.filter(closed_at__gt=after)
    found = [
        Done(one.at, *in_watch(one.kind, one.key), "ruled_out", one.flag.channel) for one in checks
    ]
    tried = _tried(None if after is None else min([after, *(one.raised_at for one in flags)]))
    closed = [one for flag in flags for one in _closed(flag, tried)]
    services = [
        Done(at, kind, key, "renewed" if tells_later else "serviced")
        for at, kind, key, tells_later in services_after(after)
    ]
    retired = [one for one in _retired(after) if one.at not in tried.get((one.kind, one.key), ())]
    return sorted(
        [*found, *closed, *retired, *services],
        key=lambda one: (one.at, STORIES_FIRST.index(one.what)),
    )


def _tried(since: datetime | None) -> dict[tuple[str, int], list[datetime]]:
    """When what was put right for the next jobs to tell: a worn edge that gave way so is no less a
    suspect for being out of use."""
    rows = ServiceEvent.objects.filter(tells_later=True)
    if since is not None:
        rows = rows.filter(at__gte=since)
    when: dict[tuple[str, int], list[datetime]] = {}
    for one in rows.order_by("at"):
        when.setdefault(one.about, []).append(one.at)
    return when


def _retired(after: datetime | None) -> Iterator[Done]:
    """What is out of use moves no more."""
    for kind, model in RETIRABLE.items():
        gone = model._default_manager.filter(retired_at__isnull=False)
        if after is not None:
            gone = gone.filter(retired_at__gt=after)
        for one in gone.order_by("retired_at", "pk").only("pk", "retired_at"):
            if one.retired_at is not None:
                yield Done(one.retired_at, kind, one.pk, "checked")


def _closed(flag: Flag, tried: dict[tuple[str, int], list[datetime]]) -> Iterator[Done]:
    """What closing a flag says of what it suspected.

    A cause found in one of them is the whole story. Where nobody knows which of them it was, each
    that could well have been is judged anew; but one that was put right already, for the next jobs
    to tell, has been right since then. With no cause found, or by retiring what it was about, the
    rest is as it was.
    """
    if flag.closed_at is None:
        return
    at, about = flag.closed_at, in_watch(flag.about_kind, flag.about_id)
    right = {
        thing for thing, when in tried.items() if any(flag.raised_at <= one <= at for one in when)
    }
    if flag.cause_kind and flag.cause_id is not None:
        cause = in_watch(flag.cause_kind, flag.cause_id)
        yield Done(at, *cause, "mended", flag.channel)
        if cause not in right:
            yield Done(at, *cause, "serviced")
        if cause != about:
            yield Done(at, *about, "checked", flag.channel)
        return
    if flag.state in (FlagState.NONE_FOUND, FlagState.WITHDRAWN):
        yield Done(at, *about, "checked", flag.channel)
        return
    could_be = [
        in_watch(one["kind"], one["key"])
        for one in flag.suspects
        if (one["probability"] or 0.0) >= COULD_WELL_BE
    ]
    yield Done(at, *about, "closed", flag.channel)
    if flag.state == FlagState.CAUSE_FOUND and about not in right:
        # Nobody said in which: in the one it was about.
        yield Done(at, *about, "serviced")
    for one in could_be:
        if one not in right:
            yield Done(at, *one, "serviced", flag.channel)


def in_watch(kind: str, key: int) -> tuple[str, int]:
    """A thing of the shop's tables by the name the watch has for it."""
    return IN_WATCH.get(kind, kind), key
