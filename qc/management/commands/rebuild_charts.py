"""Work every stored chart out again from the readings. Prints those that were not what they should
have been: there should be none."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from qc.operations.learning import rebuild_all


class Command(BaseCommand):
    help = "Work every stored chart out again from the readings, and say which differed."

    def handle(self, *args: Any, **options: Any) -> None:
        rebuilt = rebuild_all(at=timezone.now())
        for key in rebuilt.differed:
            self.stdout.write(f"differed: {key}")
        differed = len(rebuilt.differed)
        self.stdout.write(f"{rebuilt.charts} charts worked out again, {differed} differed.")
