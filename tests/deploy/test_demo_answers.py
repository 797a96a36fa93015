"""The demo's lead answers the older flags of the season, each by what is done about it."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest

from deploy.demo.furnishing import furnish
from deploy.demo.load import SEED
from deploy.demo.recording import Recorder
from deploy.demo.season import KNOCKED_AGAIN_AT, SEASON, season
from deploy.demo.services import SERVICES, planned
from qc.models import Answer, Flag, FlagState, Round, ServiceEvent
from tests.deploy.watched_season import UNTIL
from tests.flagged import make_flag

JOBS = 20


@pytest.mark.django_db
@pytest.mark.parametrize("is_flagged", [True, False])
def test_what_was_recommended_is_accepted_and_done_where_there_is_a_flag(is_flagged: bool) -> None:
    opened = UNTIL - SEASON - timedelta(days=3)
    bench = furnish(at=opened, until=UNTIL, password="demo-shop-words-1")
    drawn = season(SEED, until=UNTIL, jobs=JOBS)
    Recorder(bench, drawn[0], np.random.default_rng(1), leave_at=None).record()
    answering = [one for one in SERVICES if one.found]
    assert [one.kind for one in answering] == ["fixture"]
    if is_flagged:
        for one in answering:
            fixture = bench.fixtures[one.number]
            make_flag(Round.objects.get(), kind="fixture", key=fixture.pk)
        Flag.objects.update(raised_at=drawn[1].at)
    works = planned(bench, seed=SEED, opened=opened, until=UNTIL, jobs=JOBS)
    for one in answering:
        for work in works[one.before_job(JOBS)]:
            work(UNTIL)
    ended = {(flag.state, flag.decision.answer) for flag in Flag.objects.all()}
    assert ended == ({(FlagState.CAUSE_FOUND, Answer.ACCEPTED)} if is_flagged else set())
    notes = " ".join(ServiceEvent.objects.values_list("note", flat=True))
    assert [one.found for one in answering if one.found not in notes] == []


def test_one_comes_too_late_to_be_answered() -> None:
    assert max(one.share for one in SERVICES if one.found) < KNOCKED_AGAIN_AT < 1
