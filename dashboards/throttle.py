"""Failed sign-ins counted by name, so that a password cannot be guessed by trying many.

Counted in Django's cache: each server process has its own count unless the cache is shared.
"""

from __future__ import annotations

import hashlib

from django.core.cache import cache

MOST_FAILURES = 10
WITHIN_SECONDS = 15 * 60


def is_held_back(username: str) -> bool:
    return bool(cache.get(_key(username), 0) >= MOST_FAILURES)


def count_failure(username: str) -> None:
    """The quarter of an hour runs from the first failure of the series."""
    key = _key(username)
    if not cache.add(key, 1, timeout=WITHIN_SECONDS):
        try:
            cache.incr(key)
        except ValueError:  # it ran out between the two calls
            cache.set(key, 1, timeout=WITHIN_SECONDS)


def forget_failures(username: str) -> None:
    cache.delete(_key(username))


def _key(username: str) -> str:
    return "sign-in." + hashlib.sha256(username.strip().lower().encode()).hexdigest()
