"""Gauge studies: the order, each refusal, the result kept, and what jobs count in afterwards."""

from __future__ import annotations

import math
from datetime import timedelta
from typing import Any

import pytest

from qc.errors import (
    AlreadyThere,
    BadInput,
    DoubtfulUnit,
    NegativeLength,
    NoResultToTake,
    NotAllowed,
    NothingToVoid,
    NotItsTurn,
    ReasonNeeded,
    Retired,
    ShopError,
    StudyClosed,
)
from qc.lookups.gauges.gauge_studies import (
    next_turn,
    open_turns,
    study_record,
    study_rows,
)
from qc.lookups.record.usual_spread import usual_spread
from qc.models import (
    Gauge,
    GaugeStudy,
    JobResult,
    JournalEntry,
    Reading,
    Repeats,
    ShopPolicy,
    State,
    StudyReading,
    StudyTurn,
)
from qc.numerics.gauge_study import gauge_readings, gauge_study
from qc.operations import readings, resources, study_trials, study_use
from qc.units import Length, Unit, mm
from tests.make import NOON, Shop, make_job, make_shop
from tests.studies import closed_study, make_study, read_study, scattered

LATER = NOON + timedelta(days=1)


@pytest.fixture
def shop(db: None) -> Shop:
    return make_shop()


def first_turn(study: Any) -> StudyTurn:
    turn = open_turns(study).select_related("study", "person", "gauge").first()
    assert turn is not None
    return turn


def test_the_order_is_drawn_from_the_seed_and_kept(shop: Shop) -> None:
    one, two, other = (
        make_study(shop, name=name, seed=seed) for name, seed in (("a", 1), ("b", 1), ("c", 2))
    )
    orders = [list(s.turns.values_list("person", "part", "trial")) for s in (one, two, other)]
    assert orders[0] == orders[1] != orders[2]
    assert len(orders[0]) == 5 * 3 * 2
    assert [turn.trial for turn in one.turns.all()] == [1] * 15 + [2] * 15
    for person in {turn[0] for turn in orders[0]}:
        assert sorted(t[1] for t in orders[0] if t[0] == person and t[2] == 1) == [1, 2, 3, 4, 5]


def test_a_reading_is_kept_as_typed_and_in_mm(shop: Shop) -> None:
    study = make_study(shop)
    turn = first_turn(study)
    study_trials.record_trial(turn=turn, length=mm("0.501"), by=shop.operator, at=NOON)
    following = next_turn(study, turn.person)
    assert following is not None
    assert following.order > turn.order
    thou = study_trials.record_trial(
        turn=following,
        length=Length(mm("19.70").value, Unit.THOU),
        by=shop.operator,
        at=NOON,
    )
    assert (str(thou.value_mm), thou.entered_value, thou.entered_unit) == (
        "0.500380",
        "19.70",
        "thou",
    )
    entry = JournalEntry.objects.filter(action="study.read").latest("pk")
    assert entry.after["value"] == "19.70 thou"
    assert entry.after["piece"] == following.part


@pytest.mark.parametrize(
    ("length", "error"),
    [
        (mm("0"), NegativeLength),
        (mm("-0.5"), NegativeLength),
        (mm("19.7"), DoubtfulUnit),
        (Length(mm("0.5").value, Unit.THOU), DoubtfulUnit),
        (mm("900"), BadInput),
    ],
)
def test_a_reading_that_cannot_be_is_refused(
    shop: Shop, length: Length, error: type[ShopError]
) -> None:
    study = make_study(shop)
    with pytest.raises(error):
        study_trials.record_trial(turn=first_turn(study), length=length, by=shop.operator, at=NOON)
    assert not StudyReading.objects.exists()


def test_a_confirmed_unit_is_taken_and_marked(shop: Shop) -> None:
    study = make_study(shop)
    taken = study_trials.record_trial(
        turn=first_turn(study), length=mm("8"), by=shop.operator, at=NOON, confirm=True
    )
    assert taken.unit_confirmed


def test_only_the_next_turn_of_a_person_is_read(shop: Shop) -> None:
    study = make_study(shop)
    turn = first_turn(study)
    own = list(open_turns(study).filter(person=turn.person).select_related("study", "gauge"))
    with pytest.raises(NotItsTurn, match=f"turn {own[0].order}, piece {own[0].part}"):
        study_trials.record_trial(turn=own[1], length=mm("0.5"), by=shop.operator, at=NOON)
    study_trials.record_trial(turn=own[0], length=mm("0.5"), by=shop.operator, at=NOON)
    with pytest.raises(NotItsTurn):
        study_trials.record_trial(turn=own[0], length=mm("0.5"), by=shop.operator, at=NOON)
    someone_else = open_turns(study).exclude(person=turn.person).select_related("study").first()
    assert someone_else is not None
    study_trials.record_trial(turn=someone_else, length=mm("0.5"), by=shop.operator, at=NOON)


def test_a_void_reading_stays_and_its_turn_comes_up_again(shop: Shop) -> None:
    study = make_study(shop)
    turn = first_turn(study)
    reading = study_trials.record_trial(turn=turn, length=mm("0.5"), by=shop.operator, at=NOON)
    with pytest.raises(ReasonNeeded):
        study_trials.void_trial(reading=reading, why=" ", by=shop.operator, at=NOON)
    study_trials.void_trial(reading=reading, why="Wrong piece", by=shop.operator, at=NOON)
    with pytest.raises(NothingToVoid):
        study_trials.void_trial(reading=reading, why="Again", by=shop.operator, at=NOON)
    assert next_turn(study, turn.person) == turn
    study_trials.record_trial(turn=turn, length=mm("0.6"), by=shop.operator, at=NOON)
    assert [str(one.value_mm) for one in turn.readings.all()] == ["0.500000", "0.600000"]
    assert turn.readings.get(voided_at=None).value_mm == mm("0.6").mm


def test_a_lost_piece_is_left_out_with_a_reason(shop: Shop) -> None:
    study = make_study(shop)
    turn = first_turn(study)
    with pytest.raises(ReasonNeeded):
        study_trials.leave_out(turn=turn, why="", by=shop.operator, at=NOON)
    study_trials.leave_out(turn=turn, why="Piece lost", by=shop.operator, at=NOON)
    following = next_turn(study, turn.person)
    assert following is not None
    assert following.order > turn.order
    read_study(study, scattered(shop), by=shop.operator)
    study_use.close_study(study=study, by=shop.lead, at=NOON)
    result = study_record(study).result
    assert result is not None
    assert (result["readings"], result["trials"]) == (29, None)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"name": " "}, "name"),
        ({"parts": 1}, "parts"),
        ({"parts": 51}, "parts"),
        ({"trials": 0}, "trials"),
        ({"parts": 50, "trials": 10}, "parts"),
        ({"people": "viewer"}, "people"),
        ({"people": "one"}, "people"),
        ({"people": "twice"}, "people"),
    ],
)
def test_a_study_that_cannot_be_is_refused(shop: Shop, changes: dict[str, Any], field: str) -> None:
    people = {
        "viewer": [shop.operator.person, shop.viewer.person],
        "one": [shop.operator.person],
        "twice": [shop.operator.person] * 2,
    }
    if "people" in changes:
        changes = {"people": people[changes["people"]]}
    with pytest.raises(BadInput) as refused:
        make_study(shop, **changes)
    assert field in refused.value.fields


def test_a_name_is_taken_once_and_a_retired_gauge_is_not_studied(shop: Shop) -> None:
    make_study(shop, name="Spring")
    with pytest.raises(AlreadyThere):
        make_study(shop, name="SPRING")
    resources.retire(resource=shop.gauge, by=shop.lead, at=NOON, why="Dropped")
    with pytest.raises(Retired):
        make_study(shop, name="Summer")


def test_operators_read_and_leads_decide(shop: Shop) -> None:
    study = make_study(shop)
    with pytest.raises(NotAllowed):
        study_trials.record_trial(turn=first_turn(study), length=mm("0.5"), by=shop.viewer, at=NOON)
    for decide in (study_use.close_study, study_use.take_study, study_use.set_aside):
        with pytest.raises(NotAllowed):
            decide(study=study, why="So", by=shop.operator, at=NOON)


def test_closing_early_needs_a_reason_and_ends_the_reading(shop: Shop) -> None:
    study = make_study(shop)
    read_study(study, scattered(shop), by=shop.operator, most=24)
    turn = first_turn(study)
    with pytest.raises(ReasonNeeded):
        study_use.close_study(study=study, by=shop.lead, at=NOON)
    study_use.close_study(study=study, by=shop.lead, at=NOON, why="Pia was called away")
    for write in (
        lambda: study_trials.record_trial(turn=turn, length=mm("0.5"), by=shop.operator, at=NOON),
        lambda: study_trials.leave_out(turn=turn, why="x", by=shop.operator, at=NOON),
        lambda: study_use.close_study(study=study, by=shop.lead, at=NOON, why="x"),
    ):
        with pytest.raises(StudyClosed):
            write()
    record = study_record(study)
    assert record.result is not None
    assert record.result["readings"] == 24


def test_the_result_is_what_the_numerics_say(shop: Shop) -> None:
    study = closed_study(shop)
    rows = StudyReading.objects.filter(voided_at=None)
    answer = gauge_study(
        gauge_readings(
            [float(one.value_mm) for one in rows],
            part=[one.turn.part for one in rows],
            operator=[one.turn.person_id for one in rows],
        )
    )
    record = study_record(study)
    result = record.result
    assert result is not None
    assert result["components"]["grr_mm"] == pytest.approx(math.sqrt(answer.components.grr))
    assert result["interaction"]["pooled"] is (answer.recommended == "pooled")
    # Two readings differ by sqrt 2 standard deviations, 95 of 100 within 1.96 of those.
    assert result["two_hands_mm"] == pytest.approx(
        1.96 * math.sqrt(2 * answer.components.grr), rel=1e-4
    )
    assert record.two_hands_share == pytest.approx(result["two_hands_mm"] / 0.10)
    assert sum(hand["leans_mm"] for hand in result["hands"]) == pytest.approx(0, abs=1e-12)


def test_a_lead_voids_in_a_closed_study_and_the_result_is_worked_out_anew(shop: Shop) -> None:
    study = closed_study(shop)
    before = study.result
    reading = StudyReading.objects.first()
    assert reading is not None
    with pytest.raises(NotAllowed):
        study_trials.void_trial(reading=reading, why="Slip", by=shop.operator, at=LATER)
    study_trials.void_trial(reading=reading, why="Slip", by=shop.lead, at=LATER)
    study.refresh_from_db()
    assert study.result["readings"] == before["readings"] - 1
    entry = JournalEntry.objects.filter(action="study.voided").latest("pk")
    assert entry.before["result"]["components"] == before["components"]


def test_who_looked_while_it_was_open_voids_nothing_once_it_is_closed(shop: Shop) -> None:
    study = make_study(shop)
    turn = first_turn(study)
    seen_open = study_trials.record_trial(turn=turn, length=mm("0.5"), by=shop.operator, at=NOON)
    read_study(study, lambda turn: f"0.5{turn.part}{turn.trial}", by=shop.operator)
    study_use.close_study(study=GaugeStudy.objects.get(pk=study.pk), by=shop.lead, at=NOON)
    with pytest.raises(NotAllowed):
        study_trials.void_trial(reading=seen_open, why="Slip", by=shop.operator, at=LATER)
    seen_open.refresh_from_db()
    assert seen_open.voided_at is None


def test_a_study_is_taken_as_it_stands_whatever_the_caller_saw(shop: Shop) -> None:
    seen = closed_study(shop)
    reading = StudyReading.objects.latest("pk")
    study_trials.void_trial(reading=reading, why="Slip", by=shop.lead, at=LATER)
    use = study_use.take_study(study=seen, why="Ours", by=shop.lead, at=LATER)
    now = GaugeStudy.objects.get(pk=seen.pk).result
    assert now is not None
    assert use.repeat_sd_mm == now["components"]["repeatability_mm"]


@pytest.mark.parametrize("reads", ["alike", "nothing"])
def test_a_study_that_shows_nothing_is_closed_and_never_taken(shop: Shop, reads: str) -> None:
    study = make_study(shop)
    if reads == "alike":
        read_study(study, lambda turn: "0.50", by=shop.operator)
    study_use.close_study(study=study, by=shop.lead, at=NOON, why="No time")
    record = study_record(study)
    assert record.result is None
    assert record.refused
    with pytest.raises(NoResultToTake):
        study_use.take_study(study=study, why="Try", by=shop.lead, at=NOON)


def test_a_study_whose_repeats_never_differ_is_too_coarse_to_take(shop: Shop) -> None:
    study = make_study(shop)
    read_study(study, lambda turn: f"0.5{turn.part}", by=shop.operator)
    study_use.close_study(study=study, by=shop.lead, at=NOON)
    with pytest.raises(NoResultToTake, match="too coarse"):
        study_use.take_study(study=study, why="Try", by=shop.lead, at=NOON)


def test_an_open_study_is_not_taken_and_one_not_taken_is_not_set_aside(shop: Shop) -> None:
    with pytest.raises(NoResultToTake):
        study_use.take_study(study=make_study(shop), why="Try", by=shop.lead, at=NOON)
    with pytest.raises(BadInput):
        study_use.set_aside(study=closed_study(shop, name="b"), why="No", by=shop.lead, at=NOON)


def budget(result: JobResult) -> dict[str, Any]:
    return {line["name"]: line for line in result.detail["budget"]}


def measured(shop: Shop, serial: str, at: Any) -> JobResult:
    job = make_job(shop, serial=serial, state=State.MEASURED, at=at)
    return JobResult.objects.get(round__job=job, is_current=True)


def test_a_study_taken_counts_in_jobs_measured_afterwards_and_in_no_other(shop: Shop) -> None:
    old = measured(shop, "C-1", NOON)
    study = closed_study(shop)
    use = study_use.take_study(study=study, why="First of the year", by=shop.lead, at=LATER)
    assert use.says == "gauge study of 2 March 2026, 5 parts x 3 people x 2"
    new = measured(shop, "C-2", LATER)
    lines = budget(new)
    assert lines["repeats"]["source"] == lines["hands"]["source"] == use.says
    assert lines["repeats"]["u_mm"] == pytest.approx(use.repeat_sd_mm)
    assert lines["repeats"]["df"] == pytest.approx(use.repeat_df)
    assert lines["hands"]["u_mm"] == pytest.approx(use.hands_sd_mm)
    assert lines["hands"]["c_side_to_side"] == 0
    assert lines["hands"]["df"] >= 1
    expected = math.sqrt(sum((one["u_mm"] * one["c_height"]) ** 2 for one in lines.values()))
    assert new.u_height_mm == pytest.approx(expected)
    old.refresh_from_db()
    assert "hands" not in budget(old)
    # A correction later makes a new revision of the old job, with what was in force then.
    reading = Reading.objects.filter(set__job=old.round.job, kind="achieved").first()
    assert reading is not None
    readings.void_reading(
        reading=reading, why="Slip", replacement=mm("0.51"), by=shop.operator, at=LATER
    )
    again = JobResult.objects.get(round__job=old.round.job, is_current=True)
    assert again.revision == 2
    assert "hands" not in budget(again)


def test_a_study_set_aside_counts_no_longer(shop: Shop) -> None:
    study = closed_study(shop)
    study_use.take_study(study=study, why="First", by=shop.lead, at=NOON)
    study_use.set_aside(study=study, why="New gauge on its way", by=shop.lead, at=LATER)
    assert "hands" not in budget(measured(shop, "C-2", LATER))
    assert "hands" in budget(measured(shop, "C-3", LATER - timedelta(hours=6)))
    actions = JournalEntry.objects.filter(action__startswith="study.").values_list("action", "why")
    assert list(actions)[-2:] == [
        ("study.taken", "First"),
        ("study.set_aside", "New gauge on its way"),
    ]


def test_a_study_counts_for_its_own_gauge_alone(shop: Shop) -> None:
    other = resources.register_gauge(name="Other", step=mm("0.01"), by=shop.lead, at=NOON)
    study_use.take_study(study=closed_study(shop), why="First", by=shop.lead, at=NOON)
    policy = ShopPolicy.objects.latest("pk")
    assert usual_spread(shop.gauge, policy=policy, at=LATER).hands is not None
    assert usual_spread(other, policy=policy, at=LATER).hands is None
    assert usual_spread(Gauge(step_mm=1), policy=policy, at=None).hands is None


def test_rereading_the_same_pieces_never_hides_how_pieces_differ(shop: Shop) -> None:
    """Reading alone scatters less than pieces do: the policy's figure stays, hands are added."""
    study = closed_study(shop, repeats=Repeats.SAME)
    use = study_use.take_study(study=study, why="First", by=shop.lead, at=NOON)
    policy = ShopPolicy.objects.latest("pk")
    spread = usual_spread(shop.gauge, policy=policy, at=LATER)
    assert use.repeat_sd_mm < float(policy.repeat_sd_mm) == spread.repeat_sd_mm
    assert spread.hands is not None
    ShopPolicy.objects.update(repeat_sd_mm="0.001")
    narrow = usual_spread(shop.gauge, policy=ShopPolicy.objects.latest("pk"), at=LATER)
    assert narrow.repeat_sd_mm == use.repeat_sd_mm
    assert narrow.source == use.says


def test_two_gauges_in_one_study_are_hands_of_their_own(shop: Shop) -> None:
    other = resources.register_gauge(name="Other", step=mm("0.001"), by=shop.lead, at=NOON)
    study = closed_study(
        shop, gauges=[shop.gauge, other], people=[shop.operator.person, shop.lead.person]
    )
    result = study_record(study).result
    assert result is not None
    assert result["hand_count"] == 4
    use = study_use.take_study(study=study, why="Both", by=shop.lead, at=NOON)
    assert use.says.endswith("5 parts x 2 people x 2 gauges x 2")


def test_the_list_says_how_far_each_is(shop: Shop) -> None:
    study = make_study(shop)
    read_study(study, scattered(shop), by=shop.operator, most=4)
    [row] = study_rows()
    assert (row.turns, row.read, row.is_taken) == (30, 4, False)
