"""One job from open to released through the operations, against a case worked by hand."""

from __future__ import annotations

import pytest

from qc import outbox
from qc.models import JobResult, JournalEntry, OutboxItem, State
from tests.hand_worked import assert_hand_worked
from tests.make import make_job, make_shop

pytestmark = pytest.mark.django_db


def test_a_whole_job_comes_to_the_hand_worked_numbers() -> None:
    job = make_job(make_shop(), state=State.RELEASED)
    assert_hand_worked(JobResult.objects.get(round__job=job))
    assert job.state == State.RELEASED


def test_every_write_is_journalled_and_the_charts_are_asked_for(
    django_capture_on_commit_callbacks: object,
) -> None:
    job = make_job(make_shop(), state=State.MEASURED)
    actions = list(JournalEntry.objects.filter(job=job).values_list("action", flat=True))
    assert actions == [
        "job.opened",
        "readings.as_found",
        "round.planned",
        "round.set_up",
        "step.skipped",
        "readings.touch_off",
        "pass.taken",
        "pass.taken",
        "readings.achieved",
        "result.computed",
    ]
    assert OutboxItem.objects.filter(task="qc.learn", done_at=None).count() == 1
    assert outbox.drain() == 1
    assert OutboxItem.objects.filter(done_at=None).count() == 0
