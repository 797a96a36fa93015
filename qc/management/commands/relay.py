"""Hand the outbox's work to Celery workers: `manage.py relay`, one or more, in a big shop."""

from __future__ import annotations

import logging
import signal
import threading
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from kombu.exceptions import OperationalError

from qc import outbox
from qc.models import OutboxItem

log = logging.getLogger(__name__)


class Command(BaseCommand):
    help = "Hand work from the outbox to Celery workers until stopped."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--poll-seconds", type=float, default=1.0)

    def handle(self, *args: Any, **options: Any) -> None:
        stopping = threading.Event()
        for name in (signal.SIGINT, signal.SIGTERM):
            signal.signal(name, lambda *_: stopping.set())
        while not stopping.is_set():
            try:
                outbox.drain(send)
                outbox.beat("relay")
            except OperationalError as error:
                log.warning("The broker cannot be reached (%s); trying again.", error)
            stopping.wait(options["poll_seconds"])


def send(item: OutboxItem) -> None:
    try:
        outbox.hand_over(item)
    except OperationalError:
        outbox.release_claim(item)
        raise
