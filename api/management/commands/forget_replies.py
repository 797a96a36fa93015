"""Drops the answers kept for retries that can no longer come."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from api.retry import forget_before


class Command(BaseCommand):
    help = "Forget the answers kept under Idempotency-Keys that are older than some days."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--days", type=int, default=30, help="how many days to keep")

    def handle(self, *args: Any, **options: Any) -> None:
        dropped = forget_before(timezone.now() - timedelta(days=options["days"]))
        self.stdout.write(f"{dropped} answers forgotten.")
