"""The flags that are about a resource or person, and the open ones that suspect it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Q

from qc.actor import Actor
from qc.lookups.flags.lines import FlagLine, SuspectLine
from qc.lookups.flags.told import (
    flag_lines,
    flags_about,
    flags_for,
)


@dataclass(frozen=True)
class HeldAgainst:
    """As one reader may know of it: who may not know of a flag on a person learns nothing of it
    from a gauge's page either. flags: newest first; those too whose cause lay in it, and a lathe's
    include the closed ones of its edges.
    channels: on which an open one holds it among its suspects."""

    flags: Sequence[FlagLine]
    channels: frozenset[str]


def held_against(kind: str, key: int, by: Actor) -> HeldAgainst:
    about = flag_lines(flags_about(kind, key, by), by)
    if kind == "lathe":
        about += flag_lines(flags_for(by, is_open=False).filter(edge__lathe=key), by)
    known = {one.flag.pk for one in about}
    lay_in_it = Q(cause_kind=kind, cause_id=key) | Q(
        finding__cause_kind=kind, finding__cause_id=key
    )
    caused = flags_for(by, is_open=False).filter(lay_in_it).exclude(pk__in=known)
    about += flag_lines(caused, by)
    others = flags_for(by, is_open=True).exclude(**{f"{kind}_id": key})
    held = [
        one
        for one in flag_lines(others, by)
        if any(_is(suspect, kind, key) for suspect in one.suspects)
    ]
    flags = sorted([*about, *held], key=lambda one: (one.flag.raised_at, one.flag.pk))[::-1]
    return HeldAgainst(
        flags=flags,
        channels=frozenset(
            one.channel
            for one in flags
            if one.is_open and any(_is(suspect, kind, key) for suspect in one.suspects)
        ),
    )


def _is(suspect: SuspectLine, kind: str, key: int) -> bool:
    return (suspect.kind, suspect.key) == (kind, key)
