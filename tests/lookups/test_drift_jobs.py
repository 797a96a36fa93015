"""What the drift sums are told of a job: as measured, on the engine's clock."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import Any

import numpy as np
import pytest

from qc import outbox
from qc.lookups.charts.kept_charts import Place
from qc.lookups.record.channels import measured_rounds
from qc.lookups.watch import kept_drift
from qc.lookups.watch.done import done_after
from qc.lookups.watch.drift_jobs import (
    as_row,
    drift_jobs,
    rounds_of,
)
from qc.lookups.watch.kept_drift import DriftKept
from qc.lookups.watch.own_jobs import on_own_jobs
from qc.models import (
    OPEN_FLAG,
    ChartKind,
    DriftChannel,
    Flag,
    FlagCheck,
    FlagState,
    Kind,
    ServiceKind,
    State,
    StoredChart,
)
from qc.numerics.drift import Move, saving
from qc.operations import flags, learning, policy, readings, resources
from qc.operations.drift import rebuild_drift
from qc.units import mm
from tests.clocked import clocked_job
from tests.flagged import make_flag
from tests.make import NOON, gaps, make_job, make_shop

pytestmark = pytest.mark.django_db


def test_a_job_is_told_with_what_it_was_made_and_read_with() -> None:
    shop = make_shop()
    achieved = {0: "0.53", 90: "0.51", 180: "0.47", 270: "0.49"}
    make_job(shop, state=State.MEASURED, clocking=90, achieved=achieved)
    [job] = drift_jobs(None)
    row = as_row(job, edge_jobs=7)
    assert row.fixture[0] == shop.fixture.pk
    assert row.lathe[0] == shop.lathe.pk
    assert row.edge[0] == shop.edge.pk
    assert row.operator[0] == shop.operator.person.pk
    assert row.gauge_found[0] == row.gauge_achieved[0] == shop.gauge.pk
    assert row.clocking_deg[0] == 90
    assert row.radius_mm[0] == pytest.approx(19.4)
    np.testing.assert_allclose(row.tilt_achieved_mm[0], [0.06, 0.02], atol=1e-9)
    np.testing.assert_allclose(row.tilt_found_mm[0], [0.0, 0.02], atol=1e-9)
    assert row.height_error_mm[0] == pytest.approx(0.0, abs=1e-9)
    assert row.edge_jobs[0] == 7
    assert row.spread_df[0] == 0
    assert np.isnan(row.spread_mm[0])
    assert row.found_fixture[0] == -1


def test_two_positions_tell_one_component_and_its_axis() -> None:
    shop = make_shop()
    pair = {90: "0.52", 270: "0.48"}
    job = make_job(shop, state=State.CUT)
    readings.record_gap_readings(
        job=job,
        kind=Kind.ACHIEVED,
        readings=gaps(pair),
        gauge=shop.gauge,
        base_gasket=mm("0.50"),
        why_fewer="No room",
        by=shop.operator,
        at=NOON + timedelta(hours=2),
    )
    [told] = drift_jobs(None)
    row = as_row(told, edge_jobs=0)
    assert row.tilt_achieved_mm[0, 0] == pytest.approx(0.04)
    assert np.isnan(row.tilt_achieved_mm[0, 1])
    assert row.achieved_axis_deg[0] == 90


def test_a_second_round_names_the_fixture_that_cut_the_face_it_found() -> None:
    shop = make_shop()
    clocked_job(shop)
    first, second = drift_jobs(None)
    assert as_row(first, edge_jobs=0).found_fixture[0] == -1
    row = as_row(second, edge_jobs=1)
    assert row.found_fixture[0] == shop.fixture.pk
    assert row.found_clocking_deg[0] == 0
    assert row.clocking_deg[0] == 180
    np.testing.assert_allclose(
        row.tilt_found_mm[0], as_row(first, edge_jobs=0).tilt_achieved_mm[0], atol=1e-9
    )


def test_an_edges_jobs_are_counted_from_its_last_service() -> None:
    shop = make_shop()
    for day in range(3):
        make_job(shop, state=State.MEASURED, serial=f"C-{day}", at=NOON + timedelta(days=day))
    outbox.drain()
    chart = StoredChart.objects.get(kind=ChartKind.DRIFT)
    assert chart.jobs == 3
    assert chart.state["edge_jobs"] == {str(shop.edge.pk): 3}
    resources.record_service(
        subject=shop.edge, kind=ServiceKind.DRESSED, by=shop.lead, at=NOON + timedelta(days=5)
    )
    make_job(shop, state=State.MEASURED, serial="C-9", at=NOON + timedelta(days=6))
    outbox.drain()
    chart.refresh_from_db()
    assert chart.state["edge_jobs"] == {str(shop.edge.pk): 1}
    watch = DriftKept().watch_of(chart.state)
    height = watch.channels["height"]
    own = dict(zip(height.keys, height.state.own, strict=False))
    assert own["edge", shop.edge.pk] == 1
    assert own["lathe", shop.lathe.pk] == 4


def test_an_edge_found_in_order_is_as_worn_as_before() -> None:
    shop = make_shop()
    job = make_job(shop, state=State.MEASURED, serial="C-1")
    flag = make_flag(
        job.rounds.get(),
        kind="edge",
        key=shop.edge.pk,
        channel=DriftChannel.HEIGHT,
    )
    looked_at = NOON + timedelta(days=1)
    flags.close_flag(flag=flag, state=FlagState.NONE_FOUND, why="Sharp", by=shop.lead, at=looked_at)
    make_job(shop, state=State.MEASURED, serial="C-2", at=NOON + timedelta(days=2))
    outbox.drain()
    chart = StoredChart.objects.get(kind=ChartKind.DRIFT)
    assert chart.state["edge_jobs"] == {str(shop.edge.pk): 2}


def test_since_when_ends_at_jobs_that_were_done_with_it() -> None:
    """Five jobs of the shop, the second and the fourth on the other fixture."""
    shop = make_shop()
    plug = resources.register_fixture(name="Plug B", by=shop.lead, at=NOON)
    for day in range(5):
        other = plug if day in (1, 3) else None
        make_job(
            shop,
            state=State.MEASURED,
            serial=f"C-{day}",
            at=NOON + timedelta(days=day),
            fixture=other,
        )
    newest = measured_rounds().reverse()[0]
    counted = {"of": 5, "newest": Place(newest.measured_at, newest.pk)}
    between = Move(0.04, 0.005, 90.0, 2, 1, 3, 0.1)
    own = on_own_jobs(between, kind="fixture", key=shop.fixture.pk, **counted)
    assert (own.earliest_job, own.onset_job, own.latest_job) == (2, 2, 2)
    wider = replace(between, earliest_job=0, latest_job=4)
    assert on_own_jobs(wider, kind="fixture", key=shop.fixture.pk, **counted) == wider


def test_what_a_closed_flag_says_of_each_it_suspected() -> None:
    shop = make_shop()
    job = make_job(shop, state=State.MEASURED, serial="C-1")
    outbox.drain()
    edge, lathe, gauge = ("edge", shop.edge.pk), ("lathe", shop.lathe.pk), ("gauge", shop.gauge.pk)
    flag = make_flag(
        job.rounds.get(),
        kind="edge",
        key=shop.edge.pk,
        channel=DriftChannel.HEIGHT,
        suspects=[(*edge, 0.5), (*lathe, 0.45), (*gauge, 0.05)],
    )
    told = {"channel": "height", "kind": "edge", "key": shop.edge.pk}
    told |= {"round": job.rounds.get().pk, "evidence": 7.0, "threshold": 6.7}
    kept = DriftKept()
    state = {**StoredChart.objects.get(kind=ChartKind.DRIFT).state, "standing": [told]}
    watch = kept.watch_of(state)
    height = watch.channels["height"]
    height.hold(height.keys.index(edge))
    state = kept.written({**state, "watch": watch})

    def after(ended: FlagState, **cause: Any) -> list[tuple[Any, ...]]:
        Flag.objects.filter(pk=flag.pk).update(
            state=ended, closed_at=NOON + timedelta(days=1), **cause
        )
        kept = DriftKept()
        list(kept.read(None))
        assert bool(kept.standing(state)) == (ended in OPEN_FLAG)
        return [one[1:] for one in done_after(None)]

    assert after(FlagState.RAISED) == []
    assert after(FlagState.NONE_FOUND) == [(*edge, "checked", "height")]
    # Whichever of the two it was, each is judged anew; the gauge hardly was.
    assert after(FlagState.CLEARED) == [
        (*edge, "closed", "height"),
        (*edge, "serviced", "height"),
        (*lathe, "serviced", "height"),
    ]
    assert after(FlagState.CAUSE_FOUND) == [
        (*edge, "closed", "height"),
        (*edge, "serviced", None),
        (*edge, "serviced", "height"),
        (*lathe, "serviced", "height"),
    ]
    assert after(FlagState.CAUSE_FOUND, cause_kind="lathe", cause_id=shop.lathe.pk) == [
        (*lathe, "mended", "height"),
        (*edge, "checked", "height"),
        (*lathe, "serviced", None),
    ]
    FlagCheck.objects.create(
        flag=flag, kind="gauge", key=shop.gauge.pk, at=NOON, by=shop.lead.person
    )
    told_so_far = after(FlagState.RAISED, cause_kind="", cause_id=None)
    assert told_so_far == [(*gauge, "ruled_out", "height")]


def test_the_watch_is_written_down_once_however_many_jobs_it_steps(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    shop = make_shop()
    for day in range(4):
        make_job(shop, state=State.MEASURED, serial=f"C-{day}", at=NOON + timedelta(days=day))
    written = []
    monkeypatch.setattr(
        kept_drift, "saved", lambda watch: written.append(watch) or saving.saved(watch)
    )
    rebuild_drift(at=NOON)
    assert StoredChart.objects.get(kind=ChartKind.DRIFT).jobs == 4
    # Twice before any job: the chart is new, and then forgotten.
    assert len(written) == 3


def test_a_job_is_judged_by_the_false_flags_wished_for_when_it_was_measured() -> None:
    shop = make_shop()
    make_job(shop, state=State.MEASURED, serial="C-1")
    policy.change_policy(by=shop.lead, at=NOON, why="Fewer", false_flags_per_season=Decimal("0.5"))
    make_job(shop, state=State.MEASURED, serial="C-2", at=NOON + timedelta(days=1))
    kept = DriftKept()
    state, wished = kept.fresh(), []
    for job in kept.read(None):
        state, _ = kept.step(state, job)
        wished.append(kept.watch_of(state).budget.false_flags)
    assert wished == [1.0, 0.5]


def test_a_watch_of_older_sums_is_run_again_when_the_service_starts() -> None:
    shop = make_shop()
    make_job(shop, state=State.MEASURED)
    outbox.drain()
    chart = StoredChart.objects.get(kind=ChartKind.DRIFT)
    now = chart.state
    StoredChart.objects.filter(pk=chart.pk).update(state={**now, "sums": "older", "watch": "x"})
    learning.start_charts(at=NOON)
    chart.refresh_from_db()
    assert chart.state == now


def test_the_jobs_of_the_watch_are_told_as_rounds_in_one_query(
    django_assert_num_queries: Callable[[int], AbstractContextManager[object]],
) -> None:
    """Counted to the newest the watch has taken; what was measured since is none of them yet."""
    shop = make_shop()
    made = [
        make_job(shop, state=State.MEASURED, serial=f"C-{day}", at=NOON + timedelta(days=day))
        for day in (3, 1, 2, 4)
    ]
    by_time = [made[1], made[2], made[0]]
    *_, newest, _ = drift_jobs(None)
    with django_assert_num_queries(1):
        found = rounds_of({0, 2}, of=3, newest=newest.place)
    assert found == {n: by_time[n].rounds.get().pk for n in (0, 2)}
    assert rounds_of({1}, of=3, newest=newest.place) == {1: by_time[1].rounds.get().pk}
    assert rounds_of(set(), of=3, newest=newest.place) == {}
