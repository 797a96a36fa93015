"""Two people at the shop's own things: its settings, its doors, and its gauge studies."""

from __future__ import annotations

from datetime import timedelta

import pytest

from qc.models import FailedSignIns, ShopPolicy, StudyReading
from qc.operations import policy, sign_ins, study_trials
from qc.units import mm
from tests.make import NOON, make_shop
from tests.races.conftest import BothAtOnce
from tests.studies import make_study

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]


def kinds(results: list[object]) -> list[str]:
    return sorted(type(one).__name__ for one in results)


def test_two_leads_changing_the_settings_they_both_saw(both_at_once: BothAtOnce) -> None:
    shop = make_shop()
    seen = ShopPolicy.objects.latest("pk").pk

    def change(number: int) -> object:
        return policy.change_policy(
            by=shop.lead, at=NOON, why="Busier", seen=seen, season_jobs=400 + number
        )

    assert kinds(both_at_once(change)) == ["ChangedMeanwhile", "ShopPolicy"]
    assert ShopPolicy.objects.count() == 2


def test_two_failed_sign_ins_at_once_count_as_two(both_at_once: BothAtOnce) -> None:
    both_at_once(lambda number: sign_ins.count_failure("oskar", at=NOON))
    both_at_once(lambda number: sign_ins.count_failure("oskar", at=NOON))
    assert FailedSignIns.objects.get().failures == 4


def test_two_tablets_reading_one_turn_of_a_study(both_at_once: BothAtOnce) -> None:
    shop = make_shop()
    turn = make_study(shop).turns.select_related("study", "person", "gauge").get(order=1)

    def read(number: int) -> object:
        return study_trials.record_trial(
            turn=turn, length=mm("0.5"), by=shop.operator, at=NOON + timedelta(seconds=number)
        )

    assert kinds(both_at_once(read)) == ["NotItsTurn", "StudyReading"]
    assert StudyReading.objects.count() == 1
