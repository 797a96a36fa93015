"""Whatever JSON a bench sends, it is answered or refused; it never breaks the service.

Sound bodies are bent in one place or two, and at times replaced outright. The client raises on
any fault behind a 500, so the traceback of what broke is the test's own.
"""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from qc.models import Job, Reading, State
from tests.api.bench import Bench, gaps, mm
from tests.api.test_permissions import family, study_of
from tests.make import EVEN, FOUND, Shop, make_cylinder, make_job

ODD_TEXT = st.one_of(
    st.text(max_size=30),
    st.sampled_from(
        [
            *("", "0", "-0", "1e5", "NaN", "Infinity", "1" * 24, "9" * 400, "0." + "0" * 30),
            *("\0", "1,5", "1,500", "1_0", "١", "+1", " 1 ", "mm", "2026-02-30", "achieved"),
        ]
    ),
)
ODD_NUMBER = st.one_of(
    st.integers(min_value=-(10**40), max_value=10**40),
    st.floats(allow_nan=False, allow_infinity=False),
    st.sampled_from([0, 1, -1, 360, 359.999, 1e-9, 2**31, 2**63, 1e300]),
)
ODD = st.recursive(
    st.one_of(st.none(), st.booleans(), ODD_NUMBER, ODD_TEXT),
    lambda inner: st.one_of(
        st.lists(inner, max_size=4),
        st.dictionaries(
            st.sampled_from(["value", "unit", "length", "position_deg", "readings", "why", "x"]),
            inner,
            max_size=4,
        ),
    ),
    max_leaves=8,
)
CALM = settings(
    max_examples=60,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


@st.composite
def bent(draw: st.DrawFn, sound: Any) -> Any:
    """`sound` with one or two of its values replaced, dropped, or joined by another."""
    body = copy.deepcopy(sound)
    for _ in range(draw(st.integers(1, 2))):
        places = list(places_in(body))
        if not places:
            return draw(ODD)
        holder, key = draw(st.sampled_from(places))
        what = draw(st.sampled_from(["replace", "drop", "join"]))
        if what == "replace" or isinstance(holder, list):
            holder[key] = draw(ODD)
        elif what == "drop":
            del holder[key]
        else:
            holder[draw(st.text(min_size=1, max_size=12))] = draw(ODD)
    return body


def places_in(body: Any) -> Any:
    pairs = body.items() if isinstance(body, dict) else enumerate(body)
    for key, value in list(pairs):
        yield body, key
        if isinstance(value, dict | list):
            yield from places_in(value)


def bodies(shop: Shop) -> dict[tuple[str, State], Any]:
    """Sound bodies, each with the state the job is in before it."""
    reading = {"gauge": shop.gauge.pk, "base_gasket": mm("0.5"), "solder": mm("1.5")}
    cut = {"fixture": shop.fixture.pk, "lathe": shop.lathe.pk, "edge": shop.edge.pk}
    sums = {"readings": gaps(FOUND), "gauge_step": mm("0.01"), "target": mm("0.5")}
    limits = {"floor": mm("0.42"), "tol_minus": mm("0.05"), "tol_plus": mm("0.05")}
    return {
        ("as-found", State.OPEN): {**reading, "readings": gaps(FOUND), "confirm": True},
        ("plan", State.FOUND): {"gasket_next": mm("0.5"), "flange": mm("7.0")},
        ("set-up", State.PLANNED): {**cut, "clocking_deg": 90, "dial_factor": 1},
        ("indicating", State.SET_UP): {
            "kind": "indicated_tight",
            "readings": gaps({0: "0.01", 180: "-0.01"}, plane=1),
        },
        ("passes", State.CUT): {"dial": mm("2.53"), "is_spring": False},
        ("achieved", State.CUT): {
            **reading,
            "readings": gaps(EVEN, piece=1, crush=1),
            "confirm": True,
            "parts_changed": False,
        },
        ("skip", State.OPEN): {"step": "as_found", "why": "Bare"},
        ("reading/void", State.MEASURED): {"why": "Slipped", "replacement": mm("0.5")},
        ("/sums/plan", State.OPEN): {
            **sums,
            "floor": mm("0.42"),
            "gasket_found": mm("0.5"),
            "gasket_next": mm("0.5"),
        },
        ("/sums/check", State.OPEN): {**sums, **limits, "evenness_limit": mm("0.06")},
        ("/gauges", State.OPEN): {"name": "G", "step": mm("0.01"), "calibration_due": "2027-01-01"},
        ("/families", State.OPEN): family(shop, {}),
        ("/edges", State.OPEN): {
            "lathe": shop.lathe.pk,
            "slot": "2",
            "name": "E",
            "edge_radius_um": 15.5,
        },
        ("/cylinders", State.OPEN): {"family": shop.family.pk, "serial": "C-9"},
        ("/gauge-studies", State.OPEN): study_of(shop, {}),
        ("/standards", State.OPEN): {"name": "Block", "size": mm("0.5"), "u": mm("0.0002")},
        ("/jobs", State.OPEN): {"cylinder": make_cylinder(shop, "C-8").pk, "target": mm("0.5")},
    }


STEPS = [
    *("as-found", "plan", "set-up", "indicating", "passes", "achieved", "skip", "reading/void"),
    *("/sums/plan", "/sums/check", "/gauges", "/families", "/edges", "/cylinders", "/jobs"),
    *("/gauge-studies", "/standards"),
]


@pytest.mark.parametrize("step", STEPS)
def test_no_body_breaks_the_service(step: str, shop: Shop, lead: Bench) -> None:
    [(state, sound)] = [(at, body) for (name, at), body in bodies(shop).items() if name == step]
    job = make_job(shop, state=state)
    path = address(step, job)

    @CALM
    @given(body=st.one_of(bent(sound), ODD))
    def answered(body: Any) -> None:
        with transaction.atomic():
            answer = lead.send("POST", path, text=json.dumps(body), headers={"If-Match": "*"})
            if answer.status_code < 400 and not step.startswith("/sums"):
                assert lead.get(answer_address(step, job, answer)).status_code == 200
            transaction.set_rollback(True)
        assert answer.status_code < 500
        if answer.status_code >= 400:
            assert set(answer.json) >= {"code", "detail", "fields"}

    answered()
    with transaction.atomic():
        assert lead.post(path, sound, match="*").status_code in (200, 201)


def address(step: str, job: Job) -> str:
    if step.startswith("/"):
        return step[1:]
    if step == "reading/void":
        reading = Reading.objects.filter(set__job=job).latest("pk")
        return f"jobs/{job.pk}/readings/{reading.pk}/void"
    return f"jobs/{job.pk}/{step}"


def answer_address(step: str, job: Job, answer: Any) -> str:
    """Whatever was taken can be read again."""
    if not step.startswith("/"):
        return f"jobs/{job.pk}"
    return str(answer.headers["Location"]).removeprefix("/api/v1/")
