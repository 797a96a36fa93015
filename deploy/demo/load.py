"""Post the demo season through the same operations a bench uses, never into the tables."""

from __future__ import annotations

import secrets
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from deploy.demo.furnishing import furnish
from deploy.demo.recording import Recorder
from deploy.demo.season import JOBS, SEASON, season
from deploy.demo.services import planned
from deploy.demo.shop import PEOPLE
from qc import outbox
from qc.models import Role, State
from qc.operations import people

SEED = 20
WORDS = ("brass", "shim", "collet", "spindle", "scriber", "parallel", "mandrel", "quill", "gib")
# The newest jobs are left part of the way, so that the shop has work on the bench.
LEFT_AT = {
    -1: State.OPEN,
    -2: State.FOUND,
    -3: State.PLANNED,
    -5: State.SET_UP,
    -6: State.CUT,
    -8: State.MEASURED,
    -9: State.MEASURED,
}


@dataclass(frozen=True)
class SignIn:
    """What the demo's owner is shown: one password for all four people, and a bench token."""

    usernames: tuple[str, ...]
    password: str
    token: str


def untold(done: int, of: int) -> None:
    """Progress that nobody watches."""


def load(
    *,
    at: datetime,
    seed: int = SEED,
    jobs: int = JOBS,
    told: Callable[[int, int], None] = untold,
) -> SignIn:
    """Make the shop and record its season up to `at`, charts and flags as they came.

    `told` hears after each job how many of how many are recorded.
    """
    rng = np.random.default_rng(seed)
    password = (
        "-".join(secrets.choice(WORDS) for _ in range(3)) + f"-{secrets.randbelow(900) + 100}"
    )
    opened = at - SEASON - timedelta(days=3)
    bench = furnish(at=opened, until=at, password=password)
    drawn = season(seed, until=at, jobs=jobs)
    services = planned(bench, seed=seed, opened=opened, until=at, jobs=jobs)
    for done, job in enumerate(drawn, start=1):
        for serve in services.get(job.number, ()):
            serve(job.at - timedelta(minutes=10))
        Recorder(bench, job, rng, leave_at=LEFT_AT.get(job.number - jobs)).record()
        outbox.drain()
        told(done, jobs)
    _, key = people.make_token(
        person=bench.people["tomo"].person,
        name="Bench station",
        role=Role.OPERATOR,
        by=bench.lead,
        at=at,
    )
    return SignIn(tuple(one.username for one in PEOPLE), password, key)
