"""What was recommended about a flag and what became of that, in sentences: one wording for its
page, the lists and the e-mail. `line` is a FlagLine as its reader may see it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from qc.lookups.flags.flag_words import day, spelt
from qc.lookups.flags.lines import FlagLine, told_name
from qc.models import Answer, Decision, Recommended


def recommended(line: FlagLine, decision: Decision) -> str:
    """What was recommended; to check first, with what."""
    if decision.recommended != Recommended.CHECK_FIRST:
        return str(decision.get_recommended_display())
    if line.named is not None:
        return f"check {told_name(line.named)} first"
    return f"check first which it is: {line.who}"


def followed(line: FlagLine) -> str:
    """How a recommendation to check first is or was followed, unanswered as it is; else empty."""
    decision = line.decision
    if decision is None or decision.answered_at or decision.recommended != Recommended.CHECK_FIRST:
        return ""
    deeds = "; ".join(_deeds(line))
    if not deeds:
        return ""
    return f"{'Being followed' if line.is_open else 'Followed'}: {deeds}."


def _deeds(line: FlagLine) -> Iterator[str]:
    tell = ", and the next jobs tell" if line.is_open else " to see what the next jobs read"
    for one in line.tried:
        yield f"{told_name(one.suspect)} was put right {day(one.at)}{tell}"
    for one in line.checks:
        yield f"{told_name(one.suspect)} was found in order {day(one.at)}"
    for trial in line.trials:
        yield f"job {trial.job_id} was put on to tell them apart"


def decided(line: FlagLine, decision: Decision, *, today: date) -> str:
    """What was recommended about an open flag, or what a lead made of it, in a line."""
    said = recommended(line, decision)
    if decision.answered_by is None:
        return f"Recommended: {said}. {followed(line) or 'Not decided yet.'}"
    by, until = decision.answered_by.name, decision.put_off_until
    if decision.answer == Answer.ACCEPTED:
        return f"Accepted by {by}: {said}."
    days = f" until {spelt(until)}" if until else ""
    over = "" if decision.is_put_off(today=today) else " That day has come: decide again."
    return f"Put off by {by}{days}: {decision.why.rstrip('.')}.{over}"
