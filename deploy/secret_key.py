"""The embedded service's own secret key: made once, kept in the data folder, read by its owner."""

from __future__ import annotations

import os
import secrets
import tempfile
from pathlib import Path

FILE_NAME = "secret_key"


def secret_key(folder: Path) -> str:
    """The key in `folder`, made on first use. Written whole or not at all, with mode 0600."""
    path = folder / FILE_NAME
    if not path.exists():
        handle, part = tempfile.mkstemp(dir=folder, prefix=f".{FILE_NAME}-")
        with os.fdopen(handle, "w", encoding="ascii") as file:
            file.write(secrets.token_urlsafe(64))
        os.replace(part, path)
    return path.read_text(encoding="ascii").strip()
