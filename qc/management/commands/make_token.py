"""Make a bench token where no browser is at hand: `manage.py make_token NAME "Bench station"`."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from qc.actor import Actor
from qc.models import Person, Role
from qc.operations.people import make_token


class Command(BaseCommand):
    help = "Make a bench token that acts for a person, and print its key this once."
    requires_system_checks = ()  # They import every page, and would take longer than all the rest.

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("username")
        parser.add_argument("name", help="what the bench tool is called")
        parser.add_argument("--role", choices=Role.values, default=None)

    def handle(self, *args: Any, **options: Any) -> None:
        person = Person.objects.filter(username__iexact=options["username"], is_active=True).first()
        if person is None:
            raise CommandError(f"Nobody called {options['username']} works here.")
        role = Role(options["role"] or person.role)
        _, key = make_token(
            person=person, name=options["name"], role=role, by=Actor(person), at=timezone.now()
        )
        self.stdout.write(key)
