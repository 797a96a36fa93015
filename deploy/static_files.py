"""Static files under names that carry their content, so that browsers may keep them for good."""

from __future__ import annotations

import hashlib
from pathlib import Path

from django.conf import settings
from django.contrib.staticfiles.finders import get_finders
from django.core.management import call_command

STAMP = ".gathered"


def gather() -> None:
    """Collect the static files into STATIC_ROOT, unless what is there comes from the same files."""
    stamp = Path(settings.STATIC_ROOT) / STAMP
    now = fingerprint()
    if not stamp.exists() or stamp.read_text(encoding="ascii") != now:
        call_command("collectstatic", interactive=False, verbosity=0)
        stamp.write_text(now, encoding="ascii")


def fingerprint() -> str:
    """Changes when a static file of any app comes, goes or is written to."""
    seen = hashlib.sha256()
    for finder in get_finders():
        for name, storage in sorted(finder.list([]), key=lambda found: found[0]):
            facts = Path(storage.path(name)).stat()
            seen.update(f"{name} {facts.st_size} {facts.st_mtime_ns}\n".encode())
    return seen.hexdigest()
