"""How the two one-command scripts speak: a line a step, and one clear refusal."""

from __future__ import annotations

import sys


class CannotStart(Exception):
    """Why it cannot go on, in words that say what to do."""


def say(step: str, words: str) -> None:
    print(f"  {step:<12} {words}", flush=True)


def passing(step: str, words: str) -> None:
    """A line that the next one writes over; nothing where the output is not a terminal."""
    if sys.stdout.isatty():
        print(f"\r\033[K  {step:<12} {words}", end="", flush=True)


def wipe() -> None:
    """Clear a passing line."""
    if sys.stdout.isatty():
        print("\r\033[K", end="", flush=True)
