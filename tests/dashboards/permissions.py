"""Who may open which page and send which form: one row an address and method.

A role that may send a form gets 422 for an empty one; what counts here is that it is let in. An
address with no row fails tests/dashboards/test_permissions.py.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

SIGN_IN = 302
OPENS = {"visitor": SIGN_IN, "viewer": 200, "operator": 200, "lead": 200}
RECORDERS_OPEN = {"visitor": SIGN_IN, "viewer": 403, "operator": 200, "lead": 200}
LEADS_OPEN = {"visitor": SIGN_IN, "viewer": 403, "operator": 403, "lead": 200}
RECORDERS_SEND = {"visitor": SIGN_IN, "viewer": 403, "operator": 422, "lead": 422}
LEADS_SEND = {"visitor": SIGN_IN, "viewer": 403, "operator": 403, "lead": 422}


@dataclass(frozen=True)
class Row:
    """`where` fills the address; a text value names what the test's shop holds, such as "job"."""

    name: str
    method: str
    status: dict[str, int]
    where: dict[str, Any] = field(default_factory=dict)
    data: dict[str, Any] = field(default_factory=dict)


BENCH: list[Row] = []
LOOKS: list[Row] = []

ROWS = [*BENCH, *LOOKS]
