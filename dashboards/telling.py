"""Journal entries in words: who did what, when, and the facts that were written with it.

Lengths stay in millimetres here whoever looks: this is the record, not a reading aid.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.utils import timezone

from dashboards.figures.lengths import ABSENT, NO_BREAK, SHOWN
from qc.models import JournalEntry

WHAT = {
    "job.opened": "opened the job",
    "job.cut_again": "opened another round",
    "job.released": "released the job",
    "job.conceded": "released the job on concession",
    "job.scrapped": "scrapped the job",
    "job.dropped": "dropped the job, opened by mistake",
    "job.limits_corrected": "corrected target or tolerance",
    "readings.as_found": "recorded as-found readings",
    "readings.achieved": "recorded achieved readings",
    "readings.indicated_snug": "indicated the fixture before tightening",
    "readings.indicated_tight": "indicated the fixture after tightening",
    "readings.touch_off": "touched off",
    "readings.added": "added readings",
    "reading.voided": "voided a reading",
    "round.planned": "planned the cut",
    "round.set_up": "set up the lathe",
    "round.parts_changed": "noted that a part of the engine changed",
    "pass.taken": "took a pass",
    "pass.voided": "voided a pass",
    "step.skipped": "skipped a step",
    "study.opened": "opened the study",
    "study.read": "read a piece",
    "study.left_out": "left a turn out",
    "study.voided": "voided a reading",
    "study.closed": "closed the study",
    "study.taken": "took it as the shop's",
    "study.set_aside": "set it aside",
    "gauge.checked": "checked it against a standard",
    "gauge.check_voided": "voided a check",
    "flag.raised": "raised the flag",
    "flag.looked_into": "began to look into it",
    "flag.checked": "found some of it in order",
    "flag.tried": "put one of them right, for the next jobs to tell",
    "flag.cause_found": "closed it: a cause was found",
    "flag.none_found": "closed it: no cause was found",
    "flag.cleared": "cleared it by a service",
    "flag.withdrawn": "withdrew it",
    "flag.finding": "said what came of it",
    "decision.accepted": "accepted what was recommended",
    "decision.put_off": "put off what was recommended",
    "fixture.reindication_reported": "reported the fixture as re-indicated",
    "fixture.reindication_corrected": "corrected a report of re-indicating",
    "fixture.reindication_taken_back": "took back a report of re-indicating",
    "fixture.reindication_set_aside": "set a report of re-indicating aside",
    "webhook.added": "set up a webhook",
    "webhook.changed": "changed a webhook",
    "webhook.retired": "retired a webhook",
    "person.mail_changed": "changed a person's e-mail",
    "result.computed": "worked out the result",
    "round.indicated": "worked out what the dial says",
    "round.clocking_test": "worked out the clocking test",
}
NAMES = {
    "repeat_sd_mm": "repeats, one standard deviation",
    "hands_sd_mm": "between hands, one standard deviation",
    "by_piece_sd_mm": "between hands piece by piece, one standard deviation",
    "due": "next calibration due",
    "calibration_due": "calibration due",
}
# Dates, kept as 2027-06-16.
DAYS = ("due", "calibration_due", "until")
# Times, told on the shop's clock.
TIMES = ("done_at",)
# The plan's sentences, and whatever is a table of its own, are shown in a place of their own.
LONG = ("reason", "said", "passes_reason", "passes_said", "answer")


@dataclass(frozen=True)
class JournalLine:
    at: datetime
    who: str
    what: str
    facts: list[tuple[str, str]]
    why: str


def journal_lines(
    entries: Iterable[JournalEntry], *, only: Collection[str] | None = None
) -> list[JournalLine]:
    """only: the facts to tell, where not all are wanted."""
    return [
        JournalLine(one.at, _who(one), _what(one.action), _facts(one, only), one.why)
        for one in entries
    ]


def _who(entry: JournalEntry) -> str:
    who = "Squish Ledger" if entry.person is None else str(entry.person)
    return who if entry.token is None else f"{who}, through {entry.token.name}"


def _what(action: str) -> str:
    return WHAT.get(action, action.replace(".", ": ").replace("_", " "))


def _facts(entry: JournalEntry, only: Collection[str] | None) -> list[tuple[str, str]]:
    before, after = _with_units(entry.before or {}), _with_units(entry.after or {})
    lines = []
    for key in dict.fromkeys([*before, *after]):
        if key in LONG or isinstance(after.get(key), Mapping):
            continue
        if only is not None and key not in only:
            continue
        if key in after and after[key] in (None, ""):
            continue
        now, was = fact(key, after.get(key)), fact(key, before.get(key))
        if key not in before or was in (now, ABSENT):
            lines.append((_name(key), now))
        elif key in after:
            lines.append((_name(key), f"{now} (was {was})"))
        else:
            lines.append((_name(key), was))
    return lines


def _with_units(facts: Mapping[str, Any]) -> Mapping[str, Any]:
    """A flag's size was once kept under a name that says no unit; its channel says it."""
    if "size" not in facts or facts.get("channel") == "spread":
        return facts
    return {"size_mm" if key == "size" else key: value for key, value in facts.items()}


def _name(key: str) -> str:
    if key in NAMES:
        return NAMES[key]
    return key.removesuffix("_mm").removesuffix("_deg").replace("_", " ")


def fact(key: str, value: Any) -> str:
    """One stored fact as text; the key's ending says its unit."""
    if value is None or value == "":
        return ABSENT
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return "; ".join(_one_of_many(key, one) for one in value) or ABSENT
    if key in DAYS:
        at = date.fromisoformat(str(value)[:10])
        return f"{at.day} {at:%b %Y}"
    if key in TIMES:
        local = timezone.localtime(datetime.fromisoformat(str(value)))
        return f"{local.day} {local:%b %Y, %H:%M}"
    if key.endswith("_mm"):
        return SHOWN["mm"].text(value)
    if key.endswith("_deg"):
        return f"{float(value):g}°"
    return str(value).replace("_", " ") if key in ("state", "step", "verdict") else str(value)


def _one_of_many(key: str, value: Any) -> str:
    if not isinstance(value, Mapping):
        return fact(key, value)
    if "position_deg" not in value:
        return ", ".join(f"{_name(one)} {fact(one, told)}" for one, told in value.items())
    where = f"{float(value['position_deg']):g}°"
    if "unit" not in value:
        return f"{where} {SHOWN['mm'].text(value['value_mm'])}"
    again = [
        f"{name} {value[name]}" for name in ("plane", "piece", "crush") if value.get(name, 1) != 1
    ]
    return NO_BREAK.join([where, *again, str(value["value"]), str(value["unit"])])
