"""Answers kept with a round as they were given: what indicating said, what a clocking test said.

An answer is renewed in the transaction of the write that changed what it rests on; the older one
stays in the journal. What has not changed is left alone, with its date and formula.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from qc.lookups.record.answers import clocking_facts, indicating_facts
from qc.lookups.record.clocking import clocking_tests
from qc.lookups.record.indicating import indicating_of
from qc.models import Cylinder, Round
from qc.operations import journal
from qc.operations.policy import ensure_policy

FORMULA = "2026.3"
OF_THE_ANSWER = ("formula", "at", "revision")


def renew_indicated(round_: Round, *, at: datetime) -> None:
    """Keep what the newest turns of the dial say, and renew the clocking tests that use them."""
    seen = indicating_of(round_, policy=ensure_policy(at=at))
    if _keep(round_, "indicated", indicating_facts(seen), at=at):
        renew_clocking_tests(round_.job.cylinder, at=at)


def renew_clocking_tests(cylinder: Cylinder, *, at: datetime) -> None:
    """Keep with each round of this cylinder the clocking test it is the second run of."""
    tests = clocking_tests(cylinder, policy=ensure_policy(at=at))
    now = {one.second.round_id: clocking_facts(one) for one in tests}
    for round_ in Round.objects.filter(job__cylinder=cylinder).select_related("job"):
        _keep(round_, "clocking_test", now.get(round_.pk), at=at)


def _keep(round_: Round, column: str, facts: Mapping[str, Any] | None, *, at: datetime) -> bool:
    """Whether the round's answer changed; if so it is kept, and the journal has both."""
    old = getattr(round_, column)
    facts = None if facts is None else journal.plain(facts)
    if _bare(old) == facts:
        return False
    new = None
    if facts is not None:
        revision = 1 if old is None else old["revision"] + 1
        new = {**facts, "formula": FORMULA, "at": at.isoformat(), "revision": revision}
    Round.objects.filter(pk=round_.pk).update(**{column: new})
    setattr(round_, column, new)
    journal.note(
        None,
        f"round.{column}",
        subject=round_,
        job=round_.job,
        at=at,
        before={"answer": old},
        after={"answer": new},
    )
    return True


def _bare(answer: dict[str, Any] | None) -> dict[str, Any] | None:
    if answer is None:
        return None
    return {name: value for name, value in answer.items() if name not in OF_THE_ANSWER}
