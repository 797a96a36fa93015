"""Add the first lead of an empty shop: `manage.py first_lead`, then sign in and add the others."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from deploy.console import CannotStart
from deploy.first_start import add_first_lead
from qc.models import Person


class Command(BaseCommand):
    help = "Add the first lead of an empty shop."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--lead", metavar="NAME", help="sign-in name, with the password in SQUISH_LEAD_PASSWORD"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if Person.objects.exists():
            raise CommandError("This shop has people already. A lead adds more on the shop's page.")
        try:
            add_first_lead(options["lead"])
        except CannotStart as refusal:
            raise CommandError(str(refusal)) from refusal
