"""What a webhook is told of a flag, as JSON. Its fields are a promise: add some, change none.

It goes to machines that the shop may share, so it says what every account may see: no name of a
person, and never a flag about one.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from qc.lookups.flags.lines import FlagLine, SuspectLine
from qc.lookups.flags.notice_words import flag_address
from qc.models import Happening

TEST = "webhook.test"


def webhook_body(happening: Happening, line: FlagLine, *, at: datetime) -> dict[str, Any]:
    """line: as anybody may see it (flags.anybody). at: when it happened. Lengths in mm, directions
    in degrees on the fixture's own clock; null where the channel has none."""
    assert not line.is_person
    decision = line.decision
    return {
        "type": happening.value,
        "timestamp": at.isoformat(),
        "data": {
            "flag": line.flag.pk,
            "title": line.title,
            "state": line.flag.state,
            "channel": line.channel,
            "about": {"kind": line.kind, "id": line.key, "name": line.name},
            "named": None if line.named is None else _suspect(line.named),
            "suspects": [_suspect(one) for one in line.suspects],
            "probability": line.suspects[0].told_probability,
            "since": line.since.at.isoformat(),
            "since_job": line.since.job_id,
            "size_mm": line.size_mm,
            "direction_deg": line.wide_deg,
            "spread_ratio": line.spread_ratio,
            "recommendation": None if decision is None else decision.recommended,
            "answer": None if decision is None else decision.answer,
            "address": flag_address(line.flag),
        },
    }


def trial_body(*, at: datetime) -> dict[str, Any]:
    return {"type": TEST, "timestamp": at.isoformat(), "data": {}}


def _suspect(one: SuspectLine) -> dict[str, Any]:
    return {"kind": one.kind, "id": one.key, "name": one.name, "probability": one.told_probability}
