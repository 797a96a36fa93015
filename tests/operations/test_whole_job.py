"""One job from open to released through the operations, against a case worked by hand."""

from __future__ import annotations

import pytest

from qc import outbox
from qc.models import JobResult, JournalEntry, OutboxItem, State, VerdictKind
from tests.make import make_job, make_shop

pytestmark = pytest.mark.django_db


def test_a_whole_job_comes_to_the_hand_worked_numbers() -> None:
    """As-found mean 1.02, gasket unchanged, 0.52 off: 0.50 predicted.

    Achieved 0.50, 0.51, 0.50, 0.49: mean 0.50, A = 0, B = (0.51 - 0.49) / 2 = 0.01, so the gap is
    widest toward 90 degrees and tightest 0.49.
    """
    job = make_job(make_shop(), state=State.RELEASED)
    result = JobResult.objects.get(round__job=job)
    assert result.height_mm == pytest.approx(0.50, abs=1e-12)
    assert result.predicted_mm == pytest.approx(0.50, abs=1e-12)
    assert result.height_error_mm == pytest.approx(0.0, abs=1e-12)
    assert result.target_error_mm == pytest.approx(0.0, abs=1e-12)
    assert result.tilt_cos_mm == pytest.approx(0.0, abs=1e-12)
    assert result.tilt_sin_mm == pytest.approx(0.01, abs=1e-12)
    assert result.tightest_mm == pytest.approx(0.49, abs=1e-12)
    assert str(result.depth_cut_mm) == "0.520000"
    assert result.verdict == VerdictKind.ACCEPT
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
