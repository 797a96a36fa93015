"""The jobs that were set up to tell a flag's suspects apart."""

from __future__ import annotations

from dataclasses import dataclass

from qc.actor import Actor
from qc.lookups.flags.visible import may_know
from qc.models import Flag, Round


@dataclass(frozen=True)
class Trial:
    """What a job was set up for. asked: what it takes, in a sentence; empty where that was not
    known any more. flag: None to a reader who may not know of it."""

    asked: str
    flag: Flag | None


def trial_of(round_: Round, by: Actor) -> Trial | None:
    """None for a job like any other, and once it is measured or its flag is closed."""
    flag = round_.tells_apart
    if flag is None or not flag.is_open or round_.achieved_set_id is not None:
        return None
    return Trial(round_.asked, flag if may_know(flag, by) else None)
