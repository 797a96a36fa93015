"""Lanes of a chart page from made-up jobs, without a database."""

from __future__ import annotations

from collections.abc import Collection

import pytest

from qc.lookups.charts.chart_lane import ChartJobRow
from qc.lookups.charts.chart_lanes import View, lanes_of
from qc.lookups.charts.kept_charts import Place
from qc.lookups.charts.kept_errors import ErrorJob, ErrorPoint
from qc.lookups.charts.rule_sets import judging
from qc.models import ShopPolicy
from tests.points import points

ERRORS = (0.004, -0.002, 0.001, 0.003, -0.004)


def rows(errors: Collection[float], *, services: Collection[int] = ()) -> list[ChartJobRow]:
    """Jobs that nothing judges yet, some of them the first after a service."""
    by = judging(ShopPolicy())
    return [
        ChartJobRow(
            point=one,
            value_mm=one.target_error_mm,
            positions_mm=(),
            told=ErrorPoint(
                job=ErrorJob(Place(one.at, n), one.round_id, one.target_error_mm, 1),
                begins=n in (0, *services),
                baseline=None,
                judged_by=by,
                kept=None,
                firing=(),
                fired=(),
            ),
        )
        for n, one in enumerate(points(list(errors)))
    ]


def test_the_way_of_the_first_jobs_begins_anew_after_a_service() -> None:
    serviced = rows([*ERRORS, *ERRORS], services=[len(ERRORS)])
    found = lanes_of(View.FIRST, serviced, name="Error", band=None, arl=300)
    alone = lanes_of(View.FIRST, rows(ERRORS), name="Error", band=None, arl=300)
    for whole, part in zip(found.lanes, alone.lanes, strict=True):
        assert list(whole.values) == pytest.approx([*part.values, *part.values])
    assert "since the last service" in found.note
    assert "service" not in alone.note
