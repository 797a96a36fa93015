"""What the embedded service does before it serves: tables up to date, and a shop in them."""

from __future__ import annotations

import getpass
import os
import sys
import time
from argparse import Namespace
from io import StringIO
from pathlib import Path

from django.core.management import call_command
from django.db import DatabaseError, connection, transaction
from django.db.migrations.executor import MigrationExecutor
from django.utils import timezone

from deploy import env
from deploy.console import CannotStart, passing, say, wipe
from qc.errors import ShopError
from qc.models import Person, Role
from qc.operations.learning import start_charts
from qc.operations.people import add_person

DEMO = "demo.txt"
NEWER = (
    "This database was last used by a newer version of Squish Ledger: {names} is not known here.\n"
    "Start that version again, or choose another folder with --data DIR. Nothing was changed."
)
UNREADABLE = (
    "The database {path} cannot be read: {why}.\n"
    "Restore the data folder from a backup, or choose another with --data DIR."
)
DEMO_IS_HERE = (
    "{folder} holds the demo shop. Start the real one in a folder of its own: --empty --data DIR."
)
NOBODY_TO_ASK = (
    "--empty asks for the first lead's account, and there is no terminal to ask on.\n"
    "Give --lead NAME, and the password in SQUISH_LEAD_PASSWORD or SQUISH_LEAD_PASSWORD_FILE."
)


def migrate() -> None:
    """Bring the tables up to this version. Raises CannotStart when they are from a newer one."""
    try:
        executor = MigrationExecutor(connection)
    except DatabaseError as error:
        path = connection.settings_dict["NAME"]
        raise CannotStart(UNREADABLE.format(path=path, why=error)) from error
    known = executor.loader.disk_migrations
    newer = sorted(set(executor.loader.applied_migrations) - set(known))
    if newer:
        names = ", ".join(f"{app} {name}" for app, name in newer)
        raise CannotStart(NEWER.format(names=names))
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        say("database", "bringing the tables up to date")
        call_command("migrate", interactive=False, verbosity=0)
    start_charts(at=timezone.now())
    say("database", "ready")


def furnish(asked: Namespace) -> None:
    """The demo shop or the first lead, once: never into a shop that has people."""
    demo = asked.data / DEMO
    if not Person.objects.exists():
        if asked.empty:
            add_first_lead(asked.lead)
        else:
            load_demo(demo)
    elif asked.empty and demo.exists():
        raise CannotStart(DEMO_IS_HERE.format(folder=asked.data))


def load_demo(notes: Path) -> None:
    """Load the demo shop whole or not at all, and keep what it prints for its owner's eyes."""
    say("demo shop", "recording a season of jobs, once, about a minute")
    began = time.monotonic()
    printed = StringIO()
    with transaction.atomic():
        call_command("load_demo", at="now", stdout=printed, told=count_jobs)
        handle = os.open(notes, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(printed.getvalue())
    wipe()
    say("demo shop", f"loaded in {time.monotonic() - began:.0f} s")


def count_jobs(done: int, of: int) -> None:
    passing("demo shop", f"{done} of {of} jobs")


def demo_lines(folder: Path) -> list[str]:
    """How to sign in to the demo shop, line by line; none in a real shop."""
    try:
        return (folder / DEMO).read_text(encoding="utf-8").splitlines()
    except FileNotFoundError:
        return []


def add_first_lead(name: str | None) -> None:
    """Add the shop's first lead, from the terminal or from --lead and SQUISH_LEAD_PASSWORD."""
    if name and ("SQUISH_LEAD_PASSWORD" in os.environ or "SQUISH_LEAD_PASSWORD_FILE" in os.environ):
        try:
            save_lead(name, env.secret("SQUISH_LEAD_PASSWORD"))
        except (ShopError, env.BadSetting) as error:
            raise CannotStart(f"The first lead could not be added: {error}") from error
        return
    if not sys.stdin.isatty():
        raise CannotStart(NOBODY_TO_ASK)
    print("\nThe first lead of this shop:")
    while not asked_for_lead(name):
        name = None  # a name that was refused is asked for again


def asked_for_lead(name: str | None) -> bool:
    """Ask once; whether the account stands. Says why when it does not."""
    name = name or input("  sign-in name: ")
    password = getpass.getpass("  password: ")
    if getpass.getpass("  password again: ") != password:
        print("  The two passwords differ. Type them again.")
        return False
    try:
        save_lead(name, password)
    except ShopError as error:
        print(f"  {error}")
        return False
    return True


def save_lead(name: str, password: str) -> None:
    add_person(
        username=name, name=name, password=password, role=Role.LEAD, by=None, at=timezone.now()
    )
    say("first lead", name)
