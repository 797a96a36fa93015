"""Fill an empty database with the demo shop: `manage.py load_demo --at now`."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone
from django.utils.dateparse import parse_datetime

from deploy.demo.load import load, untold
from qc.models import Person


class Command(BaseCommand):
    help = "Record the demo shop's invented season through the shop's own operations."
    stealth_options = ("told",)

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--at", default="now", help="now, or the season's last moment (ISO)")

    def handle(self, *args: Any, **options: Any) -> None:
        if Person.objects.exists():
            raise CommandError("This shop has people already; the demo needs an empty one.")
        made = load(at=_moment(options["at"]), told=options.get("told", untold))
        self.stdout.write(f"sign in as {' or '.join(made.usernames)}, password {made.password}")
        self.stdout.write(f"bench token {made.token}")


def _moment(text: str) -> datetime:
    if text == "now":
        return timezone.now()
    at = parse_datetime(text)
    if at is None or at.tzinfo is None:
        raise CommandError("--at wants now, or a time like 2026-11-25T12:00:00Z.")
    return at
