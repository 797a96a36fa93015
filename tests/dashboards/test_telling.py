"""Journal entries as the record tells them."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from dashboards.telling import fact, journal_lines
from qc.models import JournalEntry, State
from tests.make import NOON, Shop, make_job


def entry(**told: object) -> SimpleNamespace:
    usual = {"at": NOON, "person": None, "token": None, "before": {}, "after": {}, "why": ""}
    return SimpleNamespace(**{**usual, **told})


def test_a_whole_job_is_told_in_order_and_in_words(shop: Shop) -> None:
    job = make_job(shop, state=State.RELEASED)
    lines = journal_lines(JournalEntry.objects.filter(job=job))
    assert [(line.who, line.what) for line in lines][:3] == [
        ("Oskar", "opened the job"),
        ("Oskar", "recorded as-found readings"),
        ("Oskar", "planned the cut"),
    ]
    assert [(line.who, line.what) for line in lines][-2:] == [
        ("Squish Ledger", "worked out the result"),
        ("Lena", "released the job"),
    ]
    facts = dict(lines[1].facts)
    assert facts["readings"].startswith("0°\xa01.02\xa0mm; 90°\xa01.03\xa0mm")
    assert facts["base gasket"] == "0.500\xa0mm"
    assert dict(lines[-1].facts) == {"state": "released (was measured)"}


@pytest.mark.parametrize(
    ("after", "told"),
    [
        ({"channel": "tilt", "size": 0.019456285373388}, ("size", "0.019\xa0mm")),
        ({"channel": "tilt", "size_mm": 0.0195}, ("size", "0.020\xa0mm")),
        ({"channel": "spread", "spread_ratio": 1.57}, ("spread ratio", "1.57")),
    ],
)
def test_how_far_a_flagged_thing_moved_is_told_with_its_unit(
    after: dict[str, object], told: tuple[str, str]
) -> None:
    [line] = journal_lines([entry(action="flag.raised", after=after)])
    assert line.what == "raised the flag"
    assert line.facts == [("channel", after["channel"]), told]


def test_a_token_is_named_with_the_person_it_acts_for() -> None:
    [line] = journal_lines(
        [entry(action="pass.taken", person="Oskar", token=SimpleNamespace(name="Stand 1"))]
    )
    assert line.who == "Oskar, through Stand 1"


def test_a_fact_that_did_not_change_says_no_was() -> None:
    [line] = journal_lines(
        [entry(action="round.set_up", before={"operator": "A"}, after={"operator": "A"})]
    )
    assert line.facts == [("operator", "A")]


def test_an_action_without_words_of_its_own_is_still_told() -> None:
    [line] = journal_lines([entry(action="edge.worn_out")])
    assert line.what == "edge: worn out"


@pytest.mark.parametrize(
    ("key", "value", "text"),
    [
        ("depth_mm", 0.52, "0.520\xa0mm"),
        ("due", "2027-06-16", "16 Jun 2027"),
        ("depth_mm", "0.520000", "0.520\xa0mm"),
        ("clocking_deg", "40.00", "40°"),
        ("void", True, "yes"),
        ("gauge", None, "—"),
        ("passes_mm", [0.235, 0.05], "0.235\xa0mm; 0.050\xa0mm"),
        ("predicted", [{"position_deg": 90, "value_mm": 0.5}], "90° 0.500\xa0mm"),
        ("step", "as_found", "as found"),
    ],
)
def test_a_fact_carries_its_unit(key: str, value: object, text: str) -> None:
    assert fact(key, value) == text
