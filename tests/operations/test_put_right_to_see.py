"""A suspect put right while its flag stays open: the next jobs tell whether it was the one."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal

import pytest

from qc.errors import BadInput
from qc.lookups.flags.drift_advice import each_weighed
from qc.lookups.flags.suspected import is_in_question
from qc.lookups.flags.telling_apart import telling_apart
from qc.lookups.flags.told import flag_line
from qc.lookups.watch.beliefs import stands_since
from qc.lookups.watch.done import done_after
from qc.lookups.watch.watch_now import watch_now
from qc.models import (
    CauseFound,
    DriftChannel,
    Flag,
    FlagState,
    JournalEntry,
    ServiceEvent,
    ServiceKind,
    State,
    ToolEdge,
)
from qc.operations import flags, resources
from tests.cutting import cut_some
from tests.flagged import make_flag
from tests.make import NOON, Shop, make_job, make_shop

pytestmark = pytest.mark.django_db
LATER = NOON + timedelta(days=3)
MOVED, CHANGED = NOON + timedelta(days=30), NOON + timedelta(days=39)
WIDER, USUAL = 0.58, 0.50


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def tied(shop: Shop) -> Flag:
    round_ = make_job(shop, state=State.MEASURED).rounds.get()
    told = [("edge", shop.edge.pk, 0.55), ("lathe", shop.lathe.pk, 0.4)]
    return make_flag(
        round_, kind="edge", key=shop.edge.pk, channel=DriftChannel.HEIGHT, suspects=told
    )


def fit(shop: Shop, *, found: CauseFound, at: datetime = LATER) -> ToolEdge:
    return resources.fit_edge(
        lathe=shop.lathe,
        slot=shop.edge.slot,
        name="Insert 2",
        edge_radius_um=Decimal(20),
        found=found,
        by=shop.lead,
        at=at,
    )


def test_its_flag_stays_open_and_says_so(shop: Shop) -> None:
    tied(shop)
    fit(shop, found=CauseFound.TO_BE_SEEN)
    line = flag_line(Flag.objects.get(), shop.lead)
    assert line.is_open
    assert [(one.told, one.at) for one in line.tried] == [(shop.edge.name, LATER)]
    assert ServiceEvent.objects.get().tells_later
    assert JournalEntry.objects.filter(action="flag.tried").count() == 1
    assert {(one.what, one.kind) for one in done_after(None)} == {("renewed", "edge")}
    assert stands_since("edge", shop.edge.pk) == LATER


def test_once_the_cause_is_found_there_it_has_been_right_since(shop: Shop) -> None:
    flag, edge = tied(shop), ("edge", shop.edge.pk)
    fit(shop, found=CauseFound.TO_BE_SEEN)
    then = LATER + timedelta(days=1)
    flags.close_flag(
        flag=flag, state=FlagState.CAUSE_FOUND, cause=edge, why="Worn", by=shop.lead, at=then
    )
    assert [(one.what, one.at) for one in done_after(None)] == [
        ("renewed", LATER),
        ("mended", then),
    ]
    assert not flag_line(Flag.objects.get(), shop.lead).is_open


def test_where_nobody_says_which_it_was_it_has_been_right_since(shop: Shop) -> None:
    tied(shop)
    fit(shop, found=CauseFound.TO_BE_SEEN)
    then = LATER + timedelta(days=1)
    resources.record_service(
        subject=shop.lathe, kind=ServiceKind.REPAIRED, by=shop.lead, at=then, note="Gib taken up"
    )
    assert Flag.objects.get().state == FlagState.CLEARED
    for done in (done_after(None), done_after(NOON), done_after(LATER)):
        assert {one.kind for one in done if one.what == "serviced"} == {"lathe"}
    assert stands_since("edge", shop.edge.pk) == LATER


def test_it_stands_since_its_service_or_a_later_cause_in_it(shop: Shop) -> None:
    flag, thing = tied(shop), ("lathe", shop.lathe.pk)

    def repaired(at: datetime) -> None:
        resources.record_service(subject=shop.lathe, kind=ServiceKind.REPAIRED, by=shop.lead, at=at)

    cut = flag.raised_by.results.get(is_current=True).measured_at
    assert stands_since(*thing) == cut
    repaired(NOON)
    flags.close_flag(
        flag=flag, state=FlagState.CAUSE_FOUND, cause=thing, why="Gib", by=shop.lead, at=LATER
    )
    assert stands_since(*thing) == LATER
    last = LATER + timedelta(days=2)
    repaired(last)
    assert stands_since(*thing) == last


def test_it_is_refused_where_nothing_is_in_question(shop: Shop) -> None:
    with pytest.raises(BadInput, match="No open flag suspects it"):
        resources.record_service(
            subject=shop.lathe,
            kind=ServiceKind.REPAIRED,
            found=CauseFound.TO_BE_SEEN,
            by=shop.lead,
            at=LATER,
        )
    assert not ServiceEvent.objects.exists()


def test_a_thing_is_in_question_while_it_may_be_another(shop: Shop) -> None:
    edge, lathe = ("edge", shop.edge.pk), ("lathe", shop.lathe.pk)
    assert not is_in_question(edge)
    tied(shop)
    assert is_in_question(edge)
    assert not is_in_question(edge, lathe)


@pytest.mark.parametrize("was_it", ["edge", "lathe"])
def test_the_jobs_after_it_name_the_one_it_was(shop: Shop, was_it: str) -> None:
    """One lathe with one edge: no job tells the two apart until the edge is changed."""
    cut_some(shop, 8)
    cut_some(shop, 6, begin=MOVED, height=WIDER)
    flag = Flag.objects.get(channel=DriftChannel.HEIGHT)
    line = flag_line(flag, shop.lead)
    assert line.named is None
    assert {"edge", "lathe"} <= {one.kind for one in line.suspects}
    fresh = replace(shop, edge=fit(shop, found=CauseFound.TO_BE_SEEN, at=CHANGED))
    line, watch = flag_line(flag, shop.lead), watch_now()
    pays = {one.suspect.kind: one.pays for one in each_weighed(line, watch)}
    assert pays["edge"] is None
    assert pays["lathe"] is not None
    apart = telling_apart(line, watch)
    assert apart.surer is None or apart.surer.service.kind != "edge"
    then = MOVED + timedelta(days=20)
    cut_some(fresh, 4, begin=then, height=USUAL if was_it == "edge" else WIDER)
    flag.refresh_from_db()
    assert flag.is_open
    chances = {(one.kind, one.key): one.probability for one in flag_line(flag, shop.lead).suspects}
    edge = chances.get(("edge", shop.edge.pk), 0.0)
    if was_it == "edge":
        assert edge > 0.8
    else:
        # The one who measures them all stays a suspect beside the lathe.
        assert next(iter(chances)) == ("lathe", shop.lathe.pk)
        assert edge < 0.05
