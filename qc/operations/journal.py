"""The one way a journal entry gets written."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from datetime import datetime

from qc.actor import Actor
from qc.models import Job, JournalEntry

LEAF = b"\x00"  # RFC 6962 section 2.1: a leaf hash never looks like the hash of a node.


def note(
    by: Actor | None,
    action: str,
    *,
    subject: object,
    at: datetime,
    job: Job | None = None,
    before: Mapping[str, object] | None = None,
    after: Mapping[str, object] | None = None,
    why: str = "",
) -> JournalEntry:
    """Record one write. `by` is None only for what the service itself worked out."""
    entry = JournalEntry(
        at=at,
        person=by.person if by else None,
        token=by.token if by else None,
        action=action,
        subject=name_of(subject),
        job=job,
        before=plain(before or {}),
        after=plain(after or {}),
        why=why,
    )
    entry.digest = leaf_digest(entry)
    entry.save()
    return entry


def name_of(subject: object) -> str:
    key = getattr(subject, "pk", None)
    return f"{type(subject).__name__} {key}" if key is not None else str(subject)


def plain(facts: Mapping[str, object]) -> dict[str, object]:
    """Facts as JSON keeps them: numbers and text as they are, everything else as its text."""
    return {key: _plain(value) for key, value in facts.items()}


def _plain(value: object) -> object:
    if value is None or isinstance(value, bool | int | float | str):
        return value
    if isinstance(value, Mapping):
        return {str(key): _plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    return str(value)


def leaf_digest(entry: JournalEntry) -> str:
    """SHA-256 over the entry's content in one fixed spelling (sorted keys, no spaces, UTF-8)."""
    content = {
        "at": entry.at.isoformat(),
        "person": entry.person_id,
        "token": entry.token_id,
        "action": entry.action,
        "subject": entry.subject,
        "job": entry.job_id,
        "before": entry.before,
        "after": entry.after,
        "why": entry.why,
    }
    text = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(LEAF + text.encode()).hexdigest()
