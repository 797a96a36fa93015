"""Try again the work that was given up, once its cause is mended: `manage.py retry_work`."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from qc import outbox


class Command(BaseCommand):
    help = "Try again the outbox work that failed too often."

    def handle(self, *args: Any, **options: Any) -> None:
        self.stdout.write(f"{outbox.revive()} to try again")
