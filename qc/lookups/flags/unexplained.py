"""A shift that nothing explains: everything that a flag suspected was found in order.

The watch forgets what it held against a suspect that was found in order, so that no forecast counts
the shift in; and if it is still there, the next jobs have to find it anew.
"""

from __future__ import annotations

from dataclasses import dataclass

from qc.actor import Actor
from qc.lookups.flags.lines import FlagLine
from qc.lookups.flags.suspected import unchecked
from qc.lookups.flags.told import flag_line, flags_for
from qc.lookups.watch.own_jobs import BEARS_ON, own_rounds
from qc.models import OPEN_FLAG, FlagCheck, FlagState, ServiceEvent

STANDS = (FlagState.NONE_FOUND, *OPEN_FLAG)


@dataclass(frozen=True)
class Unexplained:
    """line: the flag. more_jobs: so many of its jobs would find the shift again, if it is there."""

    line: FlagLine
    more_jobs: int


def unexplained(kind: str, key: int, by: Actor) -> Unexplained | None:
    """The newest such shift on the channel that this thing is forecast by.

    None once it was serviced, another flag suspects it, or as many of its jobs have come since as
    it took to raise this one.
    """
    own_checks = FlagCheck.objects.filter(kind=kind, key=key).values("flag")
    channel = BEARS_ON[kind][0]
    known = flags_for(by, channel=channel)
    flag = known.filter(pk__in=own_checks, state__in=STANDS).order_by("-raised_at", "-pk").first()
    if flag is None or (flag.is_open and unchecked(flag)):
        return None
    since = flag.closed_at or flag.checks.latest("at").at
    if ServiceEvent.objects.filter(**{kind: key}, at__gt=since).exists():
        return None
    line, own, last = flag_line(flag, by), own_rounds(kind, key), flag.raised_by.achieved_set
    until = flag.raised_at if last is None else last.at
    took = own.filter(measured_at__gte=line.since.at, measured_at__lte=until).count()
    more = max(1, took) - own.filter(measured_at__gt=since).count()
    if more <= 0:
        return None
    # Last, since a flag of long ago has many after it.
    later = known.filter(raised_at__gt=flag.raised_at).values_list("suspects", flat=True)
    told = {(one["kind"], one["key"]) for suspects in later for one in suspects}
    return None if (kind, key) in told else Unexplained(line, more)
