"""What the pages of an open job warn of: what it is made with, as open flags suspect it."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.test import Client

from qc.models import (
    CauseFound,
    DriftChannel,
    Flag,
    FlagState,
    Job,
    Kind,
    Round,
    ServiceKind,
    State,
    Step,
)
from qc.operations import lathe_passes, lathe_work, readings, reindicating, resources, steps
from qc.units import mm
from tests.flagged import make_flag
from tests.make import EVEN, NOON, Shop, gaps, make_job

PAGES = ("", "/set-up", "/indicate", "/touch-off", "/passes", "/achieved")


@pytest.fixture
def job(shop: Shop) -> Job:
    return make_job(shop, state=State.SET_UP)


@pytest.fixture
def round_(job: Job) -> Round:
    return job.rounds.get()


def test_each_page_of_an_open_job_warns_of_a_moved_fixture(
    bench: Client, shop: Shop, job: Job, round_: Round
) -> None:
    for page in PAGES:
        assert "believed to have moved" not in bench.get(f"/jobs/{job.pk}{page}").text
    flag = make_flag(round_, kind="fixture", key=shop.fixture.pk)
    for page in PAGES:
        told = bench.get(f"/jobs/{job.pk}{page}").text
        assert "Plug A is believed to have moved." in told, page
        assert "Re-indicate it before you cut, or ask the lead." in told
        assert f'<a href="/flags/{flag.pk}">The flag</a>' in told
    Flag.objects.filter(pk=flag.pk).update(state=FlagState.CLEARED, closed_at=NOON)
    assert "believed to have moved" not in bench.get(f"/jobs/{job.pk}").text


def test_a_job_on_a_fixture_reported_re_indicated_says_that_it_waits(
    bench: Client, shop: Shop, job: Job, round_: Round
) -> None:
    make_flag(round_, kind="fixture", key=shop.fixture.pk)
    reindicating.report(
        fixture=shop.fixture, as_left_mm=Decimal("0.005"), by=shop.operator, at=NOON
    )
    told = bench.get(f"/jobs/{job.pk}").text
    assert "by Oskar, as reported; it waits for a lead" in told
    assert "I have re-indicated it" not in told
    assert "Re-indicate it before you cut" not in told


def test_what_was_put_right_to_see_is_no_worry_to_the_jobs_after_it(
    bench: Client, shop: Shop, job: Job, round_: Round
) -> None:
    suspects = [("fixture", shop.fixture.pk, 0.6), ("person", shop.operator.person.pk, 0.4)]
    make_flag(round_, kind="fixture", key=shop.fixture.pk, suspects=suspects)
    assert "Plug A may have moved" in bench.get(f"/jobs/{job.pk}").text
    assert "Plug A, flagged: indicate it first" in bench.get(f"/jobs/{job.pk}/set-up").text
    resources.record_service(
        subject=shop.fixture,
        kind=ServiceKind.REINDICATED,
        found=CauseFound.TO_BE_SEEN,
        by=shop.lead,
        at=NOON + timedelta(hours=4),
    )
    assert "may have moved" not in bench.get(f"/jobs/{job.pk}").text
    assert "indicate it first" not in bench.get(f"/jobs/{job.pk}/set-up").text


def test_a_warning_stands_as_far_as_the_cut_is(bench: Client, shop: Shop, job: Job) -> None:
    """After the first of two passes one can still stop; after both, only judge by it."""
    suspected = [
        ("fixture", shop.fixture.pk, DriftChannel.TILT),
        ("edge", shop.edge.pk, DriftChannel.HEIGHT),
        ("gauge", shop.gauge.pk, DriftChannel.SPREAD),
    ]
    for kind, key, channel in suspected:
        make_flag(job.rounds.get(), kind=kind, key=key, channel=channel)
    ask = "Check it against a standard, measure with another, or ask the lead."
    ahead = warned_on(bench, job, "touch-off")
    assert "Re-indicate it before you cut, or ask the lead." in ahead
    assert "Touch off twice and compare before you cut, or ask the lead." in ahead
    assert ask in ahead

    skip = {"step": Step.INDICATING, "why": "Done this morning"}
    steps.skip_step(job=job, **skip, by=shop.operator, at=NOON)
    lathe_work.record_touch_off(job=job, dial=mm("2.00"), by=shop.operator, at=NOON)
    lathe_passes.record_pass(job=job, dial=mm("2.25"), by=shop.operator, at=NOON)
    begun = warned_on(bench, job, "passes")
    assert begun.count("Stop before the next pass, and ask the lead.") == 2
    assert "before you cut" not in begun

    lathe_passes.record_pass(job=job, dial=mm("2.52"), by=shop.operator, at=NOON)
    over = warned_on(bench, job, "achieved")
    assert "the side-to-side difference shows it. Re-indicate it before any further cut." in over
    assert "the height achieved shows it. Touch off twice and compare before any further" in over
    assert ask in over
    assert "before you cut" not in over
    assert "next pass" not in over

    measure(shop, job)
    judged = warned_on(bench, job, "verdict")
    assert "the side-to-side difference shows it." in judged
    assert "Readings of this job rest on it. Measure again with another before it is" in judged
    assert "before you cut" not in judged
    assert ask not in judged


def warned_on(bench: Client, job: Job, page: str) -> str:
    return bench.get(f"/jobs/{job.pk}/{page}").text


def measure(shop: Shop, job: Job) -> None:
    readings.record_gap_readings(
        job=job,
        kind=Kind.ACHIEVED,
        readings=gaps(EVEN),
        gauge=shop.gauge,
        base_gasket=mm("0.50"),
        solder=mm("1.0"),
        bolts_torqued=True,
        by=shop.operator,
        at=NOON,
    )


def test_a_closed_job_warns_of_nothing(bench: Client, shop: Shop) -> None:
    job = make_job(shop, state=State.RELEASED)
    make_flag(job.rounds.get(), kind="fixture", key=shop.fixture.pk)
    assert "believed to have moved" not in bench.get(f"/jobs/{job.pk}").text


def test_one_of_a_set_may_have_moved(bench: Client, shop: Shop, job: Job, round_: Round) -> None:
    make_flag(
        round_,
        kind="edge",
        key=shop.edge.pk,
        channel=DriftChannel.HEIGHT,
        suspects=[
            ("edge", shop.edge.pk, 0.5),
            ("lathe", shop.lathe.pk, 0.3),
            ("person", shop.operator.person.pk, 0.15),
        ],
    )
    told = bench.get(f"/jobs/{job.pk}/touch-off").text
    assert "Insert 1 or North lathe may have moved; one of 3 that could have." in told
    Flag.objects.update(
        suspects=[
            {"kind": "edge", "key": shop.edge.pk, "probability": 0.5},
            {"kind": "lathe", "key": shop.lathe.pk, "probability": 0.45},
        ]
    )
    told = bench.get(f"/jobs/{job.pk}/touch-off").text
    assert "Insert 1 or North lathe may have moved.</b>" in told
    assert "Touch off twice and compare before you cut, or ask the lead." in told


def test_a_gauge_that_the_job_was_read_with_is_warned_of(
    bench: Client, shop: Shop, job: Job, round_: Round
) -> None:
    make_flag(round_, kind="gauge", key=shop.gauge.pk, channel=DriftChannel.SPREAD)
    assert "Micrometer 1 is believed to have moved." in bench.get(f"/jobs/{job.pk}").text


def test_where_another_is_named_the_rest_are_not_warned_of(
    bench: Client, shop: Shop, job: Job, round_: Round
) -> None:
    """The lathe is another's, so that of the job's own things only the edge is a suspect."""
    other = resources.register_lathe(name="South lathe", by=shop.lead, at=NOON)
    make_flag(
        round_,
        kind="edge",
        key=shop.edge.pk,
        channel=DriftChannel.HEIGHT,
        suspects=[("lathe", other.pk, 0.85), ("edge", shop.edge.pk, 0.12)],
    )
    assert "to have moved" not in bench.get(f"/jobs/{job.pk}").text


def test_a_flag_about_a_person_warns_that_person_and_leads_alone(
    signed_in, shop: Shop, job: Job, round_: Round
) -> None:
    hands = ("person", shop.operator.person.pk, 0.55)
    make_flag(
        round_, kind="person", key=hands[1], suspects=[hands, ("fixture", shop.fixture.pk, 0.4)]
    )
    says = {
        who: "Plug A may have moved; one of 2" in signed_in(who).get(f"/jobs/{job.pk}").text
        for who in ("viewer", "operator", "lead")
    }
    assert says == {"viewer": False, "operator": True, "lead": True}
