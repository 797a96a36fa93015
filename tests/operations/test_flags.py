"""What becomes of flags: whom they are told to, what closes them, and what the watch then knows."""

from __future__ import annotations

from datetime import timedelta
from importlib import import_module

import pytest
from django.apps import apps

from qc import access, outbox
from qc.errors import BadInput, NotAllowed, NotThere, ReasonNeeded
from qc.lookups.flags.flag_score import flag_score
from qc.lookups.flags.lines import SOMEBODY, told_first
from qc.lookups.flags.telling_apart import Apart, telling_apart
from qc.lookups.flags.told import flag_line, flags_for
from qc.lookups.pages.today import today_page
from qc.lookups.watch.kept_drift import Standing
from qc.lookups.watch.watch_now import watch_now
from qc.lookups.watch.what_pays import fixture_advice
from qc.models import (
    Answer,
    DriftChannel,
    Flag,
    FlagState,
    JournalEntry,
    Recommended,
    Round,
    ServiceKind,
    State,
)
from qc.numerics.drift import Move
from qc.operations import decisions, flags, learning, resources
from tests.cutting import cut_job, cut_some
from tests.flagged import make_flag
from tests.make import EVEN, FOUND, NOON, Shop, make_job, make_shop

pytestmark = pytest.mark.django_db
LATER = NOON + timedelta(days=3)
FOUND_LEANING = {0: "1.02", 90: "1.06", 180: "1.02", 270: "0.98"}
LEANING = {0: "0.50", 90: "0.54", 180: "0.50", 270: "0.46"}


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def round_(shop: Shop) -> Round:
    return make_job(shop, state=State.MEASURED).rounds.get()


def test_a_flag_on_a_person_is_for_that_person_and_the_leads(shop: Shop, round_: Round) -> None:
    own = make_flag(round_, kind="person", key=shop.operator.person.pk)
    for reader in (shop.lead, shop.operator):
        assert access.flag(own.pk, by=reader) == own
        assert list(flags_for(reader)) == [own]
        assert [one.name for one in today_page(now=NOON, today=NOON.date(), by=reader).flags] == [
            "Oskar"
        ]
    with pytest.raises(NotThere):
        access.flag(own.pk, by=shop.viewer)
    assert list(flags_for(shop.viewer)) == []
    assert today_page(now=NOON, today=NOON.date(), by=shop.viewer).flags == []


def test_a_person_among_the_suspects_is_named_to_that_person_and_the_leads(
    shop: Shop, round_: Round
) -> None:
    tied = [("fixture", shop.fixture.pk, 0.6), ("person", shop.operator.person.pk, 0.38)]
    flag = make_flag(round_, kind="fixture", key=shop.fixture.pk, suspects=tied)
    assert flag_line(flag, shop.lead).title == "Something moved: Plug A or Oskar's technique"
    assert flag_line(flag, shop.operator).title == "Something moved: Plug A or Oskar's technique"
    hidden = flag_line(flag, shop.viewer)
    assert hidden.title == f"Something moved: Plug A or {SOMEBODY}"
    lathe, edge = (("lathe", shop.lathe.pk, 0.04), ("edge", shop.edge.pk, 0.02))
    for least, others in (((lathe,), "one other"), ((lathe, edge), "one of 2 others")):
        told = [{"kind": one[0], "key": one[1], "probability": one[2]} for one in least]
        Flag.objects.filter(pk=flag.pk).update(suspects=[*flag.suspects, *told])
        title = flag_line(Flag.objects.get(pk=flag.pk), shop.lead).title
        assert title == f"Something moved: Plug A, Oskar's technique or {others}"
    assert told_first(hidden.suspects[1]) == "Somebody's technique"
    assert told_first(hidden.suspects[0]) == "Plug A"
    assert [one.key for one in hidden.suspects] == [shop.fixture.pk, None]


@pytest.mark.parametrize(("probability", "is_named"), [(0.80, True), (0.79, False)])
def test_one_is_named_alone_from_eighty_percent(
    shop: Shop, round_: Round, probability: float, is_named: bool
) -> None:
    flag = make_flag(
        round_,
        kind="lathe",
        key=shop.lathe.pk,
        channel=DriftChannel.HEIGHT,
        size=0.02,
        suspects=[("lathe", shop.lathe.pk, probability), ("gauge", shop.gauge.pk, 0.2)],
    )
    assert (flag_line(flag, shop.viewer).named is not None) is is_named


def test_closing_closes_every_flag_of_that_resource_and_no_other(shop: Shop, round_: Round) -> None:
    height = make_flag(
        round_, kind="gauge", key=shop.gauge.pk, channel=DriftChannel.HEIGHT, size=0.02
    )
    spread = make_flag(
        round_, kind="gauge", key=shop.gauge.pk, channel=DriftChannel.SPREAD, size=0.9
    )
    other = make_flag(round_, kind="fixture", key=shop.fixture.pk)
    flags.close_flag(
        flag=height, state=FlagState.NONE_FOUND, why="Blocks agree", by=shop.lead, at=LATER
    )
    assert set(Flag.objects.filter(state=FlagState.NONE_FOUND)) == {height, spread}
    other.refresh_from_db()
    assert other.is_open
    with pytest.raises(BadInput, match="closed already"):
        flags.close_flag(flag=spread, state=FlagState.CAUSE_FOUND, why="x", by=shop.lead, at=LATER)


def test_service_of_any_resource_clears_its_flags(shop: Shop, round_: Round) -> None:
    flag = make_flag(
        round_, kind="lathe", key=shop.lathe.pk, channel=DriftChannel.HEIGHT, size=0.02
    )
    resources.record_service(subject=shop.lathe, kind=ServiceKind.REPAIRED, by=shop.lead, at=LATER)
    flag.refresh_from_db()
    assert flag.state == FlagState.CLEARED


def test_a_flag_that_the_watch_does_not_bear_is_withdrawn(shop: Shop, round_: Round) -> None:
    flag = make_flag(round_, kind="fixture", key=shop.fixture.pk)
    outbox.drain()
    flag.refresh_from_db()
    assert flag.state == FlagState.WITHDRAWN
    assert JournalEntry.objects.filter(action="flag.withdrawn").exists()


def test_the_journal_of_a_job_names_nobody(shop: Shop) -> None:
    """Hands that lean every cut of two fixtures the same way on the engine's clock."""
    other = resources.register_fixture(name="Plug B", by=shop.lead, at=NOON)
    for number in range(24):
        job = make_job(
            shop,
            state=State.MEASURED,
            serial=f"D-{number}",
            found=FOUND_LEANING if number > 11 else FOUND,
            achieved=LEANING if number > 11 else EVEN,
            clocking=90 * (number % 4),
            fixture=other if number % 2 else shop.fixture,
            at=NOON + timedelta(days=number),
        )
    learning.learn(round_ids=[job.rounds.get().pk], at=NOON + timedelta(days=24))
    flag = Flag.objects.get(person=shop.operator.person)
    entry = JournalEntry.objects.get(action="flag.raised", subject=f"Flag {flag.pk}")
    assert entry.job is None
    assert "Oskar" not in str(entry.after)


def knocked(shop: Shop) -> Flag:
    """Plug A, knocked by 0.08 mm toward 140 degrees, is flagged by the watch."""
    cut_some(shop, 10)
    cut_some(shop, 6, begin=NOON + timedelta(days=60), side_to_side=0.08, wide_toward=140)
    return Flag.objects.get()


def test_a_flag_comes_with_a_recommendation_and_its_figures(shop: Shop) -> None:
    """Of a limit of 0.060 at 19.4 mm: a lean of 0.08 misses more often than not, and costs
    three re-indications a miss, so that re-indicating pays with the next job."""
    flag = knocked(shop)
    found = flag.decision
    assert (found.recommended, found.answer) == (Recommended.REINDICATE, Answer.OPEN)
    assert found.figures["miss_probability"] > 0.5
    assert found.figures["after_reindicating"] < 0.1
    assert found.figures["pays_after_jobs"] == 1
    assert found.figures["reindicating_cost"] == 25
    watch = watch_now()
    assert watch is not None
    advice = fixture_advice(shop.fixture.pk, watch, is_flagged=True)
    assert advice.miss_probability == pytest.approx(found.figures["miss_probability"], abs=0.2)


def test_a_recommendation_is_put_off_with_a_reason_then_accepted_then_put_off_again(
    shop: Shop, round_: Round
) -> None:
    flag = make_flag(round_, kind="fixture", key=shop.fixture.pk)
    with pytest.raises(ReasonNeeded):
        decisions.answer(flag=flag, answer=Answer.PUT_OFF, by=shop.lead, at=LATER)
    with pytest.raises(NotAllowed):
        decisions.answer(flag=flag, answer=Answer.ACCEPTED, by=shop.operator, at=LATER)
    decisions.answer(
        flag=flag, answer=Answer.PUT_OFF, why="Batch ends today", by=shop.lead, at=LATER
    )
    decisions.answer(flag=flag, answer=Answer.ACCEPTED, by=shop.lead, at=LATER)
    with pytest.raises(BadInput, match="accepted already"):
        decisions.answer(flag=flag, answer=Answer.ACCEPTED, by=shop.lead, at=LATER)
    with pytest.raises(ReasonNeeded):
        decisions.answer(flag=flag, answer=Answer.PUT_OFF, by=shop.lead, at=LATER)
    last = decisions.answer(
        flag=flag, answer=Answer.PUT_OFF, why="No setter", by=shop.lead, at=LATER
    )
    assert (last.answer, last.why, last.version) == (Answer.PUT_OFF, "No setter", 4)
    entries = JournalEntry.objects.filter(subject=f"Flag {flag.pk}").order_by("pk")
    assert [(one.action, one.why) for one in entries] == [
        ("decision.put_off", "Batch ends today"),
        ("decision.accepted", ""),
        ("decision.put_off", "No setter"),
    ]
    flags.close_flag(flag=flag, state=FlagState.NONE_FOUND, why="Seen", by=shop.lead, at=LATER)
    with pytest.raises(BadInput, match="nothing left to decide"):
        decisions.answer(flag=flag, answer=Answer.ACCEPTED, by=shop.lead, at=LATER)


def test_the_score_counts_what_was_found(shop: Shop, round_: Round) -> None:
    for state in (FlagState.CAUSE_FOUND, FlagState.CAUSE_FOUND, FlagState.NONE_FOUND):
        flag = make_flag(round_, kind="fixture", key=shop.fixture.pk)
        flags.close_flag(flag=flag, state=state, why="Seen", by=shop.lead, at=LATER)
    own = make_flag(round_, kind="person", key=shop.operator.person.pk)
    flags.close_flag(flag=own, state=FlagState.CAUSE_FOUND, why="Solder", by=shop.lead, at=LATER)
    assert (flag_score(shop.lead).cause_found, flag_score(shop.lead).looked_into) == (3, 4)
    assert (flag_score(shop.viewer).cause_found, flag_score(shop.viewer).looked_into) == (2, 3)


def test_a_cause_lies_in_a_suspect_and_is_scored_by_how_likely_that_was(
    shop: Shop, round_: Round
) -> None:
    edge, lathe = ("edge", shop.edge.pk), ("lathe", shop.lathe.pk)
    tied = [(*edge, 0.55), (*lathe, 0.4)]

    def close(cause: tuple[str, int] | None, state: FlagState = FlagState.CAUSE_FOUND) -> Flag:
        flag = Flag.objects.filter(state=FlagState.RAISED).first() or make_flag(
            round_, kind="edge", key=edge[1], channel=DriftChannel.HEIGHT, suspects=tied
        )
        return flags.close_flag(
            flag=flag, state=state, why="Seen", by=shop.lead, at=LATER, cause=cause
        )

    with pytest.raises(BadInput, match="one of the flag's suspects"):
        close(("fixture", shop.fixture.pk))
    with pytest.raises(BadInput, match="only where one was found"):
        close(edge, FlagState.NONE_FOUND)
    for cause in (edge, edge, lathe, None):
        line = flag_line(close(cause), shop.viewer)
        told = None if line.cause is None else (line.cause.kind, line.cause.key)
        assert told == cause
    close(None, FlagState.NONE_FOUND)
    score = flag_score(shop.viewer)
    assert (score.cause_found, score.looked_into) == (4, 5)
    assert (score.located, score.in_likeliest) == (3, 2)


def test_what_tells_a_fixture_from_the_only_hands_is_another_clocking_or_fixture(
    shop: Shop,
) -> None:
    flag = knocked(shop)
    flag.suspects = [
        {"kind": "fixture", "key": shop.fixture.pk, "probability": 0.6},
        {"kind": "person", "key": shop.operator.person.pk, "probability": 0.4},
    ]
    watch = watch_now()
    assert watch is not None
    apart = telling_apart(flag_line(flag, shop.lead), watch)
    assert isinstance(apart, Apart)
    trial = apart.job
    assert trial is not None
    assert [one.what for one in trial.uses] == ["fixture", "clocking", "measured by"]
    assert trial.set_up.keys() == {"fixture", "clocking"}
    assert 0 < trial.settles <= 1
    # 0.6 to 0.4, and by that job's reading further apart whichever it was.
    assert trial.percent_now == 60
    assert trial.percent_if_first > 60 > trial.percent_if_second
    assert trial.read == "at four positions, as found too, as the shop's last jobs mostly were"
    assert trial.if_fully_read is None
    for n in range(11):
        cut_job(
            shop,
            f"two-{n}",
            at=NOON + timedelta(days=90 + n),
            side_to_side=0.08,
            wide_toward=140,
            clocking=90 * (n % 2),
            positions=(90, 270),
            learn=n == 10,
        )
    watch = watch_now()
    assert watch is not None
    apart = telling_apart(flag_line(flag, shop.lead), watch)
    assert isinstance(apart, Apart)
    assert apart.job is not None
    assert apart.job.read == "at two positions, as found too, as the shop's last jobs mostly were"


def test_two_that_cannot_be_told_apart_make_one_flag_until_one_is_ruled_out(
    shop: Shop, round_: Round
) -> None:
    outbox.drain()
    tied = (
        {"kind": "edge", "key": shop.edge.pk, "probability": 0.5},
        {"kind": "lathe", "key": shop.lathe.pk, "probability": 0.45},
    )
    move = Move(0.02, 0.005, None, 0, 0, 0, 0.1)
    edge, lathe = (
        Standing("height", one["kind"], one["key"], round_.pk, 7.0, 6.7, tied, move) for one in tied
    )
    watch = watch_now()
    assert watch is not None
    flags.settle([edge, lathe], watch=watch, at=LATER)
    flag = Flag.objects.get()
    assert flag.edge == shop.edge
    flags.close_flag(flag=flag, state=FlagState.NONE_FOUND, why="Sharp", by=shop.lead, at=LATER)
    flags.settle([lathe], watch=watch, at=LATER)
    assert list(Flag.objects.order_by("pk").values_list("edge", "lathe", "state")) == [
        (shop.edge.pk, None, "none_found"),
        (None, shop.lathe.pk, "raised"),
    ]


def test_a_flag_from_before_the_watch_gets_its_fixture_as_its_suspect(
    shop: Shop, round_: Round
) -> None:
    old = make_flag(round_, kind="fixture", key=shop.fixture.pk)
    Flag.objects.filter(pk=old.pk).update(suspects=[])
    step = import_module("qc.migrations.0014_suspects_of_old_flags")
    for _ in range(2):
        step.name_the_fixture(apps, None)
    old.refresh_from_db()
    line = flag_line(old, shop.viewer)
    assert line.title == "Plug A seems to have moved"
    assert [one.percent for one in line.suspects] == [None]
