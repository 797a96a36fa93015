"""What every answer carries, and how an answer for a tool differs from one for a person."""

from __future__ import annotations

import pytest
from django.test import Client, RequestFactory

from deploy import errors

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "font-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'"
)


@pytest.mark.django_db
@pytest.mark.parametrize("path", ["/sign-in", "/no-such-page", "/api/no-such-thing", "/health"])
def test_every_answer_says_what_may_be_loaded(client: Client, path):
    answer = client.get(path)
    assert answer["Content-Security-Policy"] == POLICY
    assert answer["Referrer-Policy"] == "same-origin"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["X-Frame-Options"] == "DENY"
    assert "camera=()" in answer["Permissions-Policy"]


def test_a_host_that_is_not_ours_is_turned_away(client: Client):
    assert client.get("/sign-in", headers={"host": "elsewhere.example"}).status_code == 400


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("handler", "status"),
    [
        (errors.bad_request, 400),
        (errors.forbidden, 403),
        (errors.not_found, 404),
        (lambda request, exception: errors.server_error(request), 500),
    ],
)
def test_a_tool_gets_a_problem_and_a_person_a_page(handler, status):
    problem = handler(RequestFactory().get("/api/v1/jobs"), Exception("inside"))
    page = handler(RequestFactory().get("/jobs"), Exception("inside"))
    assert problem.status_code == page.status_code == status
    assert problem["Content-Type"] == "application/problem+json"
    assert page["Content-Type"].startswith("text/html")
    assert b"inside" not in problem.content
