"""What reaches the log with a traceback: faults of ours, and nothing a visitor was refused."""

from __future__ import annotations

import logging


class OneLineForRefusals(logging.Filter):
    """A request refused with a status under 500 is told in one line; Django adds where it was
    raised, which is the rule that refused it."""

    def filter(self, record: logging.LogRecord) -> bool:
        if getattr(record, "status_code", 500) < 500:
            record.exc_info = record.exc_text = None
        return True
