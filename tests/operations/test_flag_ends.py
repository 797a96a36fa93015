"""How flags end: by a service of any suspect, by what was in order, by retiring, and afterwards."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from importlib import import_module

import pytest
from django.apps import apps

from qc import outbox
from qc.errors import BadInput, LeftOverLimit, NotAllowed, ReasonNeeded, Retired
from qc.lookups.flags.flag_score import flag_score
from qc.lookups.watch.done import done_after
from qc.lookups.watch.kept_drift import Standing
from qc.lookups.watch.watch_now import watch_now
from qc.models import (
    CauseFound,
    DriftChannel,
    Finding,
    Flag,
    FlagCheck,
    FlagState,
    JournalEntry,
    OutboxItem,
    Round,
    ServiceEvent,
    ServiceKind,
    State,
    ToolEdge,
)
from qc.numerics.drift import Move
from qc.numerics.drift.suspects import COULD_WELL_BE
from qc.operations import flag_ends, flags, resources
from tests.cutting import cut_some
from tests.flagged import make_flag
from tests.make import NOON, Shop, make_job, make_shop

pytestmark = pytest.mark.django_db
LATER = NOON + timedelta(days=3)
HEIGHT = DriftChannel.HEIGHT


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def round_(shop: Shop) -> Round:
    return make_job(shop, state=State.MEASURED).rounds.get()


def tied_flag(shop: Shop, round_: Round, *, lathe: float = 0.4, gauge: float = 0.05) -> Flag:
    """About the edge, with the lathe a likely suspect and the gauge an unlikely one."""
    suspects = [
        ("edge", shop.edge.pk, 0.55),
        ("lathe", shop.lathe.pk, lathe),
        ("gauge", shop.gauge.pk, gauge),
    ]
    return make_flag(round_, kind="edge", key=shop.edge.pk, channel=HEIGHT, suspects=suspects)


def repair(shop: Shop, found: CauseFound = CauseFound.NOT_KNOWN, note: str = "") -> ServiceEvent:
    return resources.record_service(
        subject=shop.lathe,
        kind=ServiceKind.REPAIRED,
        found=found,
        note=note,
        by=shop.lead,
        at=LATER,
    )


def fit(shop: Shop, **what: object) -> ToolEdge:
    return resources.fit_edge(
        lathe=shop.lathe,
        slot="1",
        name="Insert 2",
        edge_radius_um=Decimal(20),
        by=shop.lead,
        at=LATER,
        **what,  # type: ignore[arg-type]
    )


def asked_for() -> list[tuple[str, int]]:
    asks = OutboxItem.objects.filter(task="qc.follow_restart").order_by("pk")
    return [(one.arguments["kind"], one.arguments["key"]) for one in asks]


def test_fitting_a_fresh_edge_ends_the_flag_of_the_old_one_and_asks_for_its_charts(
    shop: Shop, round_: Round
) -> None:
    flag = tied_flag(shop, round_)
    fit(shop)
    flag.refresh_from_db()
    event = ServiceEvent.objects.get()
    assert (flag.state, flag.service, flag.closed_at) == (FlagState.CLEARED, event, LATER)
    assert event.kind == ServiceKind.EDGE_CHANGED
    assert ("edge", shop.edge.pk) in asked_for()
    assert JournalEntry.objects.filter(action="service.edge_changed").exists()


def test_a_fresh_edge_may_say_that_the_old_one_was_the_cause(shop: Shop, round_: Round) -> None:
    flag = tied_flag(shop, round_)
    with pytest.raises(ReasonNeeded) as refused:
        fit(shop, found=CauseFound.HERE)
    assert refused.value.fields == ("found_note",)
    fit(shop, found=CauseFound.HERE, found_note="A chip on the nose")
    flag.refresh_from_db()
    assert (flag.state, flag.cause_kind, flag.cause_id) == ("cause_found", "edge", shop.edge.pk)
    assert flag.note == "A chip on the nose. Gave way to Insert 2"
    with pytest.raises(BadInput, match="No open flag suspects it"):
        resources.fit_edge(
            lathe=shop.lathe,
            slot="1",
            name="Insert 3",
            edge_radius_um=Decimal(20),
            found=CauseFound.IN_ORDER,
            by=shop.lead,
            at=LATER,
        )


def test_a_service_of_any_likely_suspect_clears_the_flag(shop: Shop, round_: Round) -> None:
    """The edge's flag, by a repair of the lathe; a gauge at 5 % is not asked about."""
    flag = tied_flag(shop, round_)
    resources.record_service(subject=shop.gauge, kind=ServiceKind.REPAIRED, by=shop.lead, at=LATER)
    flag.refresh_from_db()
    assert flag.is_open
    event = repair(shop)
    flag.refresh_from_db()
    assert (flag.state, flag.service, flag.cause_kind) == (FlagState.CLEARED, event, "")
    assert flag_score(shop.lead).cleared == 1
    assert flag_score(shop.lead).looked_into == 0


@pytest.mark.parametrize(
    ("chance", "is_asked"), [(COULD_WELL_BE, True), (COULD_WELL_BE - 0.001, False)]
)
def test_a_suspect_is_asked_about_from_ten_percent(
    shop: Shop, round_: Round, chance: float, is_asked: bool
) -> None:
    flag = tied_flag(shop, round_, lathe=chance)
    repair(shop)
    flag.refresh_from_db()
    assert flag.is_open is not is_asked


def test_a_cause_found_at_a_service_is_kept_and_counted(shop: Shop, round_: Round) -> None:
    flag = tied_flag(shop, round_)
    with pytest.raises(ReasonNeeded):
        repair(shop, CauseFound.HERE)
    assert not ServiceEvent.objects.exists()
    event = repair(shop, CauseFound.HERE, "The stop had slipped")
    flag.refresh_from_db()
    assert (flag.state, flag.service) == (FlagState.CAUSE_FOUND, event)
    assert (flag.cause_kind, flag.cause_id) == ("lathe", shop.lathe.pk)
    assert (flag.note, flag.closed_by) == ("The stop had slipped", shop.lead.person)
    score = flag_score(shop.lead)
    assert (score.cause_found, score.located, score.in_likeliest, score.cleared) == (1, 1, 0, 0)


def test_what_was_in_order_leaves_the_flag_to_the_others(shop: Shop, round_: Round) -> None:
    """The lathe first, then the edge, the last of those that are likely: no cause found."""
    flag = tied_flag(shop, round_)
    event = repair(shop, CauseFound.IN_ORDER, "Stop and dial are right")
    flag.refresh_from_db()
    assert flag.is_open
    check = FlagCheck.objects.get()
    assert (check.flag, check.kind, check.key) == (flag, "lathe", shop.lathe.pk)
    assert (check.at, check.by, check.service) == (LATER, shop.lead.person, event)
    assert check.note == "Stop and dial are right"
    assert JournalEntry.objects.get(action="flag.checked").why == "Stop and dial are right"
    fit(shop, found=CauseFound.IN_ORDER)
    flag.refresh_from_db()
    assert flag.state == FlagState.NONE_FOUND
    assert FlagCheck.objects.count() == 2
    assert flag_score(shop.lead).none_found == 1


def test_there_is_no_cause_to_tell_where_nothing_is_suspected(shop: Shop) -> None:
    for found in (CauseFound.HERE, CauseFound.IN_ORDER):
        with pytest.raises(BadInput, match="No open flag suspects it"):
            repair(shop, found, "Seen")
    repair(shop)


def test_a_fixture_over_its_limit_keeps_the_flag_of_a_set_too(shop: Shop, round_: Round) -> None:
    hands = ("person", shop.operator.person.pk, 0.6)
    make_flag(
        round_,
        kind="person",
        key=hands[1],
        suspects=[hands, ("fixture", shop.fixture.pk, 0.35)],
    )
    with pytest.raises(LeftOverLimit):
        resources.record_service(
            subject=shop.fixture,
            kind=ServiceKind.REINDICATED,
            as_left_mm=Decimal("0.05"),
            by=shop.lead,
            at=LATER,
        )


def test_closing_with_no_cause_says_which_suspects_were_looked_at(
    shop: Shop, round_: Round
) -> None:
    flag = tied_flag(shop, round_)
    edge, lathe = ("edge", shop.edge.pk), ("lathe", shop.lathe.pk)

    def close(*looked_at: tuple[str, int]) -> Flag:
        return flags.close_flag(
            flag=flag,
            state=FlagState.NONE_FOUND,
            why="Seen",
            looked_at=looked_at,
            by=shop.lead,
            at=LATER,
        )

    for wrong in ((), (("fixture", shop.fixture.pk),)):
        with pytest.raises(BadInput, match="which of the flag's suspects") as refused:
            close(*wrong)
        assert refused.value.fields == ("looked_at",)
    OutboxItem.objects.all().delete()
    assert close(edge).is_open
    assert asked_for() == [edge]
    assert [(one.kind, one.key) for one in flag.checks.all()] == [edge]
    # The gauge, at 5 %, keeps no flag open.
    assert close(lathe).state == FlagState.NONE_FOUND


def test_retiring_withdraws_the_flags_of_a_thing_and_no_other(shop: Shop, round_: Round) -> None:
    own = make_flag(round_, kind="fixture", key=shop.fixture.pk)
    other = tied_flag(shop, round_)
    resources.retire(resource=shop.fixture, why="Cracked", by=shop.lead, at=LATER)
    own.refresh_from_db()
    other.refresh_from_db()
    assert (own.state, own.closed_by) == (FlagState.WITHDRAWN, shop.lead.person)
    assert own.note == "Plug A was retired: Cracked"
    assert JournalEntry.objects.get(action="flag.withdrawn").why == own.note
    assert other.is_open
    resources.retire(resource=shop.lathe, why="Sold", by=shop.lead, at=LATER)
    other.refresh_from_db()
    assert other.is_open


def test_a_flag_that_has_come_to_name_what_is_retired_is_withdrawn(
    shop: Shop, round_: Round
) -> None:
    flag = make_flag(
        round_,
        kind="edge",
        key=shop.edge.pk,
        channel=HEIGHT,
        suspects=[("lathe", shop.lathe.pk, 0.85), ("edge", shop.edge.pk, 0.1)],
    )
    resources.retire(resource=shop.lathe, why="Sold", by=shop.lead, at=LATER)
    flag.refresh_from_db()
    assert flag.state == FlagState.WITHDRAWN


def test_a_retired_thing_is_flagged_no_more(shop: Shop, round_: Round) -> None:
    outbox.drain()
    suspects = ({"kind": "fixture", "key": shop.fixture.pk, "probability": 0.93},)
    move = Move(0.08, 0.004, 140.0, 0, 0, 0, 0.1)
    one = Standing("tilt", "fixture", shop.fixture.pk, round_.pk, 20.0, 12.0, suspects, move)
    watch = watch_now()
    assert watch is not None
    flags.settle([one], watch=watch, at=LATER)
    resources.retire(resource=shop.fixture, why="Cracked", by=shop.lead, at=LATER)
    flags.settle([one], watch=watch, at=LATER)
    assert [flag.state for flag in Flag.objects.all()] == [FlagState.WITHDRAWN]
    raised = JournalEntry.objects.get(action="flag.raised")
    assert raised.after == {
        "fixture": "Plug A",
        "channel": "tilt",
        "size_mm": 0.08,
        "wide_toward_deg": 140,
    }


def test_a_service_of_a_retired_thing_is_refused(shop: Shop) -> None:
    resources.retire(resource=shop.lathe, why="Sold", by=shop.lead, at=LATER)
    with pytest.raises(Retired, match="North lathe is retired: no service of it is recorded"):
        repair(shop)


def test_what_came_of_a_cleared_flag_is_said_afterwards_and_corrected(
    shop: Shop, round_: Round
) -> None:
    flag = tied_flag(shop, round_)
    lathe = ("lathe", shop.lathe.pk)

    def say(state: FlagState, cause: tuple[str, int] | None = None, why: str = "Seen") -> Finding:
        return flag_ends.say_finding(
            flag=flag, state=state, cause=cause, why=why, by=shop.lead, at=LATER
        )

    with pytest.raises(BadInput, match="Only of a flag that a service cleared"):
        say(FlagState.NONE_FOUND)
    event = repair(shop)
    with pytest.raises(ReasonNeeded):
        say(FlagState.NONE_FOUND, why=" ")
    for state, cause in (
        (FlagState.CAUSE_FOUND, None),
        (FlagState.NONE_FOUND, lathe),
        (FlagState.CAUSE_FOUND, ("fixture", shop.fixture.pk)),
        (FlagState.WITHDRAWN, None),
    ):
        with pytest.raises(BadInput):
            say(state, cause)
    with pytest.raises(NotAllowed):
        flag_ends.say_finding(
            flag=flag, state=FlagState.NONE_FOUND, why="x", by=shop.operator, at=LATER
        )
    say(FlagState.CAUSE_FOUND, lathe)
    score = flag_score(shop.viewer)
    assert (score.cause_found, score.located, score.in_likeliest, score.cleared) == (1, 1, 0, 0)
    say(FlagState.NONE_FOUND)
    score = flag_score(shop.viewer)
    assert (score.cause_found, score.none_found, score.located, score.cleared) == (0, 1, 0, 0)
    [first, second] = JournalEntry.objects.filter(action="flag.finding").order_by("pk")
    assert (first.before, second.before["cause_kind"]) == ({}, "lathe")
    # What the watch was told stays as it was.
    flag.refresh_from_db()
    assert (flag.state, flag.service, flag.cause_kind) == (FlagState.CLEARED, event, "")
    assert flag.closed_at == LATER


def test_flags_withdrawn_before_their_reason_was_kept_get_it(shop: Shop, round_: Round) -> None:
    old = make_flag(round_, kind="fixture", key=shop.fixture.pk)
    Flag.objects.filter(pk=old.pk).update(state=FlagState.WITHDRAWN, closed_at=LATER)
    step = import_module("qc.migrations.0022_why_old_flags_were_withdrawn")
    for _ in range(2):
        step.say_why(apps, None)
    old.refresh_from_db()
    assert old.note == "The readings and limits now in force no longer show a move."


def test_jobs_on_other_fixtures_raise_no_flag_of_a_retired_one(shop: Shop) -> None:
    cut_some(shop, 10)
    cut_some(shop, 6, begin=NOON + timedelta(days=60), side_to_side=0.08, wide_toward=140)
    assert Flag.objects.get().is_open
    resources.retire(resource=shop.fixture, why="Bent", by=shop.lead, at=NOON + timedelta(days=66))
    other = resources.register_fixture(name="Plug B", by=shop.lead, at=NOON)
    cut_some(shop, 3, begin=NOON + timedelta(days=70), fixture=other)
    assert [one.state for one in Flag.objects.all()] == [FlagState.WITHDRAWN]


def test_a_cause_found_elsewhere_closes_the_flags_about_it_and_leaves_the_rest(
    shop: Shop, round_: Round
) -> None:
    hands = ("person", shop.operator.person.pk)
    fixture = ("fixture", shop.fixture.pk)
    gauge = ("gauge", shop.gauge.pk)
    tilt = make_flag(
        round_,
        kind="person",
        key=hands[1],
        channel=DriftChannel.TILT,
        suspects=[(*hands, 0.6), (*fixture, 0.35)],
    )
    scatter = make_flag(round_, kind="person", key=hands[1], channel=DriftChannel.SPREAD)
    about_it = make_flag(round_, kind="gauge", key=gauge[1], channel=HEIGHT)
    two = make_flag(
        round_,
        kind="edge",
        key=shop.edge.pk,
        channel=HEIGHT,
        suspects=[("edge", shop.edge.pk, 0.5), (*gauge, 0.4)],
    )
    found = FlagState.CAUSE_FOUND
    flags.close_flag(flag=tilt, state=found, why="Burr", cause=fixture, by=shop.lead, at=LATER)
    flags.close_flag(flag=two, state=found, why="Worn", cause=gauge, by=shop.lead, at=LATER)
    for one in (tilt, scatter, about_it, two):
        one.refresh_from_db()
    assert [one.is_open for one in (tilt, scatter, about_it, two)] == [False, True, False, False]
    assert (about_it.cause_kind, about_it.cause_id) == gauge
    asked = {
        (one.arguments["kind"], one.arguments["key"])
        for one in OutboxItem.objects.filter(task="qc.follow_restart")
    }
    assert asked == {fixture, gauge}


def test_what_one_service_brings_counts_stories_before_resources(shop: Shop, round_: Round) -> None:
    gauge, hands = ("gauge", shop.gauge.pk), ("person", shop.operator.person.pk)
    edge = ("edge", shop.edge.pk)
    make_flag(
        round_, kind="gauge", key=gauge[1], channel=HEIGHT, suspects=[(*gauge, 0.6), (*edge, 0.3)]
    )
    make_flag(
        round_,
        kind="person",
        key=hands[1],
        channel=DriftChannel.SPREAD,
        suspects=[(*hands, 0.5), (*gauge, 0.4)],
    )
    resources.record_service(
        subject=shop.gauge,
        kind=ServiceKind.REPAIRED,
        found=CauseFound.HERE,
        note="Worn",
        by=shop.lead,
        at=LATER,
    )
    told = [(one.what, one.kind, one.channel) for one in done_after(None)]
    assert told[:3] == [
        ("mended", "gauge", "height"),
        ("mended", "gauge", "spread"),
        ("checked", "operator", "spread"),
    ]
    assert {one[0] for one in told[3:]} == {"serviced"}


def test_what_is_retired_is_told_to_the_watch(shop: Shop) -> None:
    resources.retire(resource=shop.lathe, why="Sold", by=shop.lead, at=LATER)
    assert ("lathe", shop.lathe.pk, "checked", None) in [one[1:] for one in done_after(None)]
    assert done_after(LATER) == []


def test_an_unlikely_suspect_is_not_taken_as_looked_at(shop: Shop, round_: Round) -> None:
    flag = tied_flag(shop, round_)
    own = make_flag(round_, kind="gauge", key=shop.gauge.pk, channel=DriftChannel.SPREAD)
    flags.close_flag(flag=flag, state=FlagState.NONE_FOUND, why="Fine", by=shop.lead, at=LATER)
    own.refresh_from_db()
    assert own.is_open
    flag.refresh_from_db()
    assert flag.state == FlagState.NONE_FOUND
    assert sorted(flag.checks.values_list("kind", flat=True)) == ["edge", "lathe"]
