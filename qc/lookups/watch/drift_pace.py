"""How many jobs a season the shop does, from its own jobs: what a wished rarity is spread over."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import datetime, timedelta

from qc.models import ShopPolicy
from qc.numerics.drift import Budget

# What the shop's settings say counts as much as so many seasons watched.
TYPED_SEASONS = 0.25
MONTH = timedelta(days=365.2425 / 12)
FRESH: Mapping[str, float] = {"jobs": 0.0, "seasons": 0.0}


def one_more(
    pace: Mapping[str, float], policy: ShopPolicy, *, last: datetime | None, at: datetime
) -> dict[str, float]:
    """The pace after one more job. jobs: done; seasons: watched. Both fade by a factor e a season,
    so that what a shop did years ago does not count. last: when the job before it was, if any."""
    gone = 0.0 if last is None else (at - last) / (policy.season_months * MONTH)
    kept = math.exp(-gone)
    return {"jobs": pace["jobs"] * kept + 1, "seasons": pace["seasons"] * kept + (1 - kept)}


def budget_at(pace: Mapping[str, float], policy: ShopPolicy) -> Budget:
    """The false flags wished, at this pace."""
    typed = TYPED_SEASONS * float(policy.season_jobs)
    jobs = (pace["jobs"] + typed) / (pace["seasons"] + TYPED_SEASONS)
    return Budget(float(policy.false_flags_per_season), jobs)
