"""A chart of the newest jobs alone is the end of the chart of all jobs."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest

from qc.lookups.charts.error_charts import (
    SETTLES_IN,
    ErrorChart,
    error_chart,
)
from qc.lookups.charts.kept_errors import ErrorChartKept
from qc.lookups.charts.scopes import SHOP
from qc.lookups.pages.accuracy import Steady, steadiness
from qc.lookups.record.channels import measured_rounds, newest_points
from qc.models import Channel
from qc.operations.stored_charts import bring_up
from tests.copied import copy_job
from tests.cutting import cut_job
from tests.make import NOON, Shop

BEFORE, NEWEST = 60, SETTLES_IN + 40


def charts(shop: Shop, *, away: int = 0, learnt: int = BEFORE + NEWEST) -> list[ErrorChart]:
    """Of all jobs, and of the NEWEST. The first jobs, which limits rest on, scatter less than the
    rest; the last `away` lie far off. The stored chart has as many as are learnt."""
    rng = np.random.default_rng(11)
    errors = np.concatenate([rng.normal(0.001, 0.004, BEFORE), rng.normal(0, 0.005, NEWEST)])
    errors[len(errors) - away :] += 0.02
    at = [NOON + timedelta(hours=n) for n in range(errors.size)]
    like = cut_job(shop, "like", learn=False)
    kept = ErrorChartKept(Channel.TARGET_ERROR, SHOP)
    for told in (slice(None, learnt), slice(learnt, None)):
        copy_job(like, at=at[told], target_error_mm=errors[told].tolist())
        if told.stop:
            bring_up(kept)
    points = newest_points(measured_rounds(), NEWEST)
    assert len(points) == NEWEST
    return [error_chart(Channel.TARGET_ERROR, points=one) for one in (None, points)]


def test_it_has_the_limits_the_numbers_and_the_average_of_the_whole(shop: Shop) -> None:
    whole, newest = charts(shop)
    assert (whole.jobs_before, newest.jobs_before) == (0, BEFORE)
    assert whole.individuals is not None
    assert newest.individuals is not None
    assert newest.individuals.limits == whole.individuals.limits
    assert (newest.individuals.beyond == whole.individuals.beyond[BEFORE:]).all()
    assert whole.ewma is not None
    assert newest.ewma is not None
    settled = newest.settled_at
    assert (settled, whole.settled_at) == (SETTLES_IN, 0)
    for name in ("z", "lower", "upper"):
        told, known = getattr(newest.ewma, name), getattr(whole.ewma, name)
        assert told[settled:] == pytest.approx(known[BEFORE + settled :], abs=1e-9)
    assert newest.ewma.z[0] != pytest.approx(whole.ewma.z[BEFORE], abs=1e-6)


def test_jobs_that_the_stored_chart_does_not_have_yet_are_not_before(shop: Shop) -> None:
    assert charts(shop, learnt=BEFORE + NEWEST - 7)[1].jobs_before == BEFORE


def test_steady_as_far_as_it_looks_is_steady_since_then_or_before(shop: Shop) -> None:
    whole, newest = (steadiness(one) for one in charts(shop))
    assert (whole.steady, whole.or_before) == (Steady.YES, False)
    assert (newest.steady, newest.or_before) == (Steady.YES, True)
    assert newest.since is not None
    assert newest.since.at == NOON + timedelta(hours=BEFORE + SETTLES_IN)


def test_a_shop_that_left_its_limits_lately_left_them_at_the_same_job(shop: Shop) -> None:
    whole, newest = (steadiness(one) for one in charts(shop, away=8))
    assert whole.steady == Steady.OUTSIDE
    assert newest == whole
