"""Whether what was done about a flag still waits for the watch to be brought up to date with it."""

from __future__ import annotations

from qc.models import Flag, OutboxItem
from qc.outbox import OPEN

RESTART = "qc.follow_restart"
STEPS_WATCH = ("qc.learn", RESTART)


def is_worked_in(flag: Flag) -> bool:
    """Of an open flag, anything that the watch is stepped for may change what is believed; of a
    closed one, what closed it."""
    waiting = OutboxItem.objects.filter(OPEN, task__in=STEPS_WATCH)
    if flag.closed_at is not None:
        since = flag.closed_at.isoformat()
        waiting = waiting.filter(task=RESTART, arguments__since=since)
    return waiting.exists()
