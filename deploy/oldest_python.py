"""Refuses a Python that is too old. Any Python since 2.7 can read this file, so it comes first."""

import sys

OLDEST = (3, 11)


def complaint(version):  # type: (tuple[int | str, ...]) -> str
    """What to say to somebody who runs this version, or "" when it will do."""
    if tuple(version[:2]) >= OLDEST:
        return ""
    oldest, this = (".".join(str(part) for part in v) for v in (OLDEST, version[:3]))
    return (
        "Squish Ledger needs Python " + oldest + " or newer, and this is Python " + this + ".\n"
        "Install a newer one and name it: python" + oldest + " deploy/up   "
        "(on Windows: py -" + oldest + " deploy\\up)"
    )


def refuse_old(version):  # type: (tuple[int | str, ...]) -> None
    words = complaint(version)
    if words:
        sys.exit(words)
