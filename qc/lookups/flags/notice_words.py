"""The e-mail about a flag, in plain words and in its reader's unit.

What it says of the flag are the sentences of the flag's page, as this reader may see them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields

from django.conf import settings
from django.urls import reverse
from django.utils import timezone

from qc.lookups.flags import decision_words, flag_words
from qc.lookups.flags.lines import FlagLine, told_name
from qc.models import ENDS, Flag, FlagState, Happening
from qc.numerics.drift.decision import Advice
from qc.shown import NO_BREAK, SHOWN

RARELY = (
    "The probabilities hold if one of the shop's things moved; with nothing moved at all, a flag "
    "comes as rarely as the shop's settings ask."
)


@dataclass(frozen=True)
class Letter:
    subject: str
    text: str


def letter(happening: Happening, line: FlagLine, *, unit: str, shop_name: str) -> Letter:
    """In the time zone that is in force; see flag_words."""
    ended = happening in ENDS
    told = list(_ended(line) if ended else _raised(line, unit))
    told += [_where(line.flag), f"{shop_name}. A lead chose that you get this; a lead can stop it."]
    subject = _subject_of_end(line) if ended else _subject(line)
    return Letter(subject, "\n\n".join(told).replace(NO_BREAK, " ") + "\n")


def flag_address(flag: Flag) -> str:
    """The address of the flag's page; without its start where the settings name none."""
    return f"{settings.SITE_ADDRESS}{reverse('dashboards:flag', args=[flag.pk])}"


def _names(line: FlagLine) -> str:
    named = line.named
    return told_name(named) if named else line.who


def _subject(line: FlagLine) -> str:
    about = flag_words.day(line.since.at)
    if line.named is None:
        return f"Something moved about {about}: {_names(line)}"
    is_person = line.named.kind == "person"
    what = _names(line) if is_person else f"{line.named.noun.capitalize()} {_names(line)}"
    return f"{what} seems to have {'changed' if is_person else 'moved'} about {about}"


def _subject_of_end(line: FlagLine) -> str:
    return f"No longer flagged: {_names(line)}"


def _raised(line: FlagLine, unit: str) -> Iterator[str]:
    yield f"{line.title}."
    yield flag_words.says(line, shown=SHOWN[unit])
    decision = line.decision
    if decision is not None:
        yield f"Recommended: {decision_words.recommended(line, decision)}."
        advice = _advice(decision.figures)
        if advice is not None:
            minutes = decision.figures["minutes_to_reindicate"]
            yield flag_words.advises(advice, kind="fixture", minutes=minutes)
    if line.named is not None:
        yield f"Look at: {flag_words.LOOK_AT[line.named.kind]}"
        return
    yield "\n".join(["Who it could be:", *_suspects(line)])
    yield RARELY


def _suspects(line: FlagLine) -> Iterator[str]:
    for one in line.suspects:
        sure = "" if one.percent is None else f", {one.percent} %"
        yield f"- {one.name} ({one.noun}){sure}"


def _advice(figures: dict[str, object]) -> Advice | None:
    """Why to re-indicate, as reckoned when the flag was raised; None where that was not advised."""
    names = [one.name for one in fields(Advice)]
    if figures.get("what") != "reindicate":
        return None
    return Advice(**{name: figures[name] for name in names})  # type: ignore[arg-type]


def _ended(line: FlagLine) -> Iterator[str]:
    flag = line.flag
    yield f"{line.title}: that was flagged {flag_words.day(flag.raised_at)}."
    if flag.closed_at is not None:
        local = timezone.localtime(flag.closed_at)
        by = f" by {flag.closed_by.name}" if flag.closed_by else ""
        state = FlagState(flag.state).label
        ended = f"Closed {flag_words.day(flag.closed_at)}, {local:%H:%M}{by}: {state}."
        yield f"{ended} {flag.note}".strip()


def _where(flag: Flag) -> str:
    if settings.SITE_ADDRESS:
        return f"Its page: {flag_address(flag)}"
    return f"Its page: {flag_address(flag)} on Squish Ledger's address in your shop."
