"""What is logged of a request that was refused, and of one that broke."""

from __future__ import annotations

import logging
from typing import Any

import pytest
from django.conf import settings
from django.core.exceptions import PermissionDenied
from django.core.handlers.exception import response_for_exception
from django.test import RequestFactory

from deploy.logs import OneLineForRefusals


def logged(error: Exception, caplog: pytest.LogCaptureFixture, rf: RequestFactory) -> list[str]:
    """What a console that filters as ours does writes of it."""
    try:
        raise error
    except Exception as raised:
        response_for_exception(rf.get("/jobs/new"), raised)
    written = []
    for record in caplog.records:
        assert OneLineForRefusals().filter(record)
        written.append(logging.Formatter("%(message)s").format(record))
    return written


@pytest.fixture
def rf(caplog: pytest.LogCaptureFixture) -> RequestFactory:
    caplog.set_level(logging.WARNING, logger="django.request")
    return RequestFactory()


@pytest.mark.django_db
def test_a_refusal_is_one_line(rf: Any, caplog: Any) -> None:
    [line] = logged(PermissionDenied("Ask a lead."), caplog, rf)
    assert line == "Forbidden (Permission denied): /jobs/new"


def test_a_fault_of_ours_keeps_its_traceback(caplog: Any) -> None:
    record = logging.LogRecord("django.request", logging.ERROR, "", 0, "Broken", (), None)
    record.status_code, record.exc_text = 500, "Traceback"
    assert OneLineForRefusals().filter(record)
    assert record.exc_text == "Traceback"


def test_the_console_filters_so() -> None:
    named = settings.LOGGING["filters"]["refusals"]["()"]
    assert named.endswith(OneLineForRefusals.__name__)
    assert "refusals" in settings.LOGGING["handlers"]["console"]["filters"]
