"""Set-up and indicating through their pages, refusals included."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client

from qc.models import Kind, Reading, ReadingSet, State
from qc.operations import engines, resources
from qc.units import mm
from tests.dashboards.pages import form_on, send, send_again
from tests.make import ALDER, NOON, Shop, make_job


def set_up(shop: Shop, **change: object) -> dict[str, object]:
    typed = {"fixture": shop.fixture.pk, "edge": shop.edge.pk, "clocking": "40"}
    return {**typed, **change}


TURN = {"dial_1_1": "0.5", "dial_1_2": "0.4", "dial_1_3": "0", "dial_1_4": "-0.4"} | {
    "dial_1_5": "-0.5",
    "dial_1_6": "-0.4",
    "dial_1_7": "0",
    "dial_1_8": "0.4",
    "unit": "thou",
}


def test_a_set_up_is_saved(bench: Client, shop: Shop) -> None:
    job = make_job(shop, state=State.PLANNED)
    answer = send(bench, f"/jobs/{job.pk}/set-up", set_up(shop))
    assert answer.headers["Location"] == f"/jobs/{job.pk}/indicate"
    round_ = job.rounds.latest("number")
    assert (round_.fixture, round_.lathe, round_.edge) == (shop.fixture, shop.lathe, shop.edge)
    assert round_.clocking_deg == 40
    assert round_.operator == shop.operator.person
    assert round_.dial_factor == 1


def test_not_clocked_is_a_choice_that_says_what_it_costs(bench: Client, shop: Shop) -> None:
    job = make_job(shop, state=State.PLANNED)
    page = bench.get(f"/jobs/{job.pk}/set-up").text
    assert "stays off the fixture's tilt chart" in page.replace("&#x27;", "'")
    send(bench, f"/jobs/{job.pk}/set-up", set_up(shop, clocking="", not_clocked="on"))
    assert job.rounds.latest("number").clocking_deg is None
    assert (
        "checked" in bench.get(f"/jobs/{job.pk}/set-up").text.split('id="id_not_clocked"')[1][:20]
    )


def test_a_compound_takes_its_angle_factor(bench: Client, shop: Shop) -> None:
    job = make_job(shop, state=State.PLANNED)
    address = f"/jobs/{job.pk}/set-up"
    silent = send(bench, address, set_up(shop, dial="compound"))
    assert silent.status_code == 422
    assert "angle factor" in silent.text
    send_again(bench, silent, {"dial_factor": "0.5"})
    assert job.rounds.latest("number").dial_factor == Decimal("0.5")
    shown = form_on(bench.get(address).text, "version")
    assert (shown["dial"], shown["dial_factor"]) == ("compound", "0.5")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"clocking": ""}, "Give the clocking, or tick"),
        ({"not_clocked": "on"}, "not both"),
        ({"clocking": "400"}, "no clock position"),
        ({"clocking": "up"}, "no clock position"),
        ({"clocking": "40.123"}, "two decimals"),
        ({"fixture": ""}, "Nothing is chosen under “Fixture”"),
        ({"dial": "compound", "dial_factor": "1.2"}, "above 0 and at most 1"),
    ],
)
def test_a_set_up_is_refused_for_a_reason_that_is_said(
    bench: Client, shop: Shop, change: dict[str, str], said: str
) -> None:
    job = make_job(shop, state=State.PLANNED)
    typed = set_up(shop, **change)
    answer = send(bench, f"/jobs/{job.pk}/set-up", typed)
    assert answer.status_code == 422
    assert said in answer.text
    shown = form_on(answer.text, "version")
    assert {name: shown[name] for name in typed} == {name: str(v) for name, v in typed.items()}
    assert job.rounds.latest("number").fixture is None


def test_a_retired_fixture_is_refused_even_from_a_page_opened_before(
    bench: Client, shop: Shop
) -> None:
    job = make_job(shop, state=State.PLANNED)
    sent = form_on(bench.get(f"/jobs/{job.pk}/set-up").text, "version")
    resources.retire(resource=shop.fixture, by=shop.lead, at=NOON, why="Bent")
    answer = bench.post(f"/jobs/{job.pk}/set-up", {**sent, **set_up(shop)})
    assert answer.status_code == 422
    assert "not one of the available choices" in answer.text


def test_the_set_up_clock_runs_the_other_way_seen_from_the_tailstock(
    bench: Client, shop: Shop
) -> None:
    """Base toward you, 90 degrees stands on the left of the exhaust port and 270 on the right."""
    job = make_job(shop, state=State.SET_UP, clocking=90)
    text = bench.get(f"/jobs/{job.pk}/set-up").text
    assert '<text x="-84.0" y="-0.0" dy="5">90°</text>' in text
    assert '<text x="84.0" y="0.0" dy="5">270°</text>' in text
    assert 'd="M0 0L-46.0 -0.0"' in text
    as_found = bench.get(f"/jobs/{make_job(shop, serial='C-2').pk}/as-found").text
    assert '<text x="84.0" y="-0.0" dy="5">90°</text>' in as_found


def test_indicating_before_and_after_tightening(bench: Client, shop: Shop) -> None:
    job = make_job(shop, state=State.SET_UP)
    address = f"/jobs/{job.pk}/indicate"
    shown = form_on(bench.get(address).text, "version")
    assert [int(shown[f"deg_1_{n}"]) for n in range(1, 9)] == list(range(0, 360, 45))
    assert shown["kind"] == Kind.INDICATED_SNUG
    answer = send(bench, address, {"dial_1_1": "0", "dial_1_3": "-0.004", "dial_1_5": "0.25 thou"})
    assert answer.headers["Location"] == address
    snug = Reading.objects.filter(kind=Kind.INDICATED_SNUG)
    assert [(one.position_deg, str(one.value_mm)) for one in snug] == [
        (0, "0.000000"),
        (90, "-0.004000"),
        (180, "0.006350"),
    ]
    answer = send(bench, address, {"dial_1_1": "0", "dial_1_2": "0.01", "deg_1_2": "60"})
    assert answer.headers["Location"] == f"/jobs/{job.pk}/touch-off"
    tight = Reading.objects.filter(kind=Kind.INDICATED_TIGHT)
    assert [one.position_deg for one in tight] == [0, 60]


def test_a_second_plane_and_more_positions_can_be_asked_for(bench: Client, shop: Shop) -> None:
    job = make_job(shop, state=State.SET_UP)
    more = send(bench, f"/jobs/{job.pk}/indicate", {"dial_1_1": "0.01", "more": "planes"})
    more = send_again(bench, more, {"dial_2_1": "0.02", "dial_2_5": "0", "more": "angles"})
    shown = form_on(more.text, "version")
    assert (shown["dial_1_1"], shown["dial_2_1"]) == ("0.01", "0.02")
    answer = send_again(bench, more, {"deg_1_9": "10", "dial_1_9": "0.03"})
    assert answer.status_code == 302
    dial = Reading.objects.filter(kind=Kind.INDICATED_SNUG)
    kept = set(dial.values_list("plane", "position_deg"))
    assert kept == {(1, 0), (1, 10), (2, 0), (2, 180)}


def test_a_dial_reading_off_the_circle_of_the_others_is_asked_about(
    bench: Client, shop: Shop
) -> None:
    job = make_job(shop, state=State.SET_UP)
    asked = send(bench, f"/jobs/{job.pk}/indicate", {**TURN, "dial_1_2": "4"})
    assert asked.status_code == 422
    words = asked.text.replace("\N{NO-BREAK SPACE}", " ")
    assert "4 thou at 45 degrees stands 3.6 thou off the circle" in words
    assert 'href="#id_dial_1_2"' in words
    assert not ReadingSet.objects.filter(kind=Kind.INDICATED_SNUG).exists()
    assert send_again(bench, asked, {"confirm": "on"}).status_code == 302
    slip = Reading.objects.get(kind=Kind.INDICATED_SNUG, position_deg=45)
    assert (str(slip.value_mm), slip.unit_confirmed) == ("0.101600", True)
    void = f"/jobs/{job.pk}/readings/{slip.pk}/void"
    page = bench.get(void).text
    assert "Indicated, snug at 45°" in page
    assert "piece" not in page
    again = send(bench, void, {"why": "Slip", "unit": "thou", "replacement": "40"})
    assert again.status_code == 422
    assert send_again(bench, again, {"replacement": "0.4"}).status_code == 302
    assert "piece" not in bench.get(f"/jobs/{job.pk}/indicate").text


def test_over_the_limit_before_tightening_nobody_is_told_to_tighten(
    bench: Client, shop: Shop
) -> None:
    """The shop's limit is half a thou; this turn runs out by two."""
    job = make_job(shop, state=State.SET_UP)
    address = f"/jobs/{job.pk}/indicate"
    far = {name: f"{2 * float(value):g}" for name, value in TURN.items() if name != "unit"}
    answer = send(bench, address, {**far, "unit": "thou"})
    page = bench.get(answer.headers["Location"]).text
    assert "before tightening" in page
    assert "Now tighten" not in page
    assert form_on(page, "version")["kind"] == Kind.INDICATED_SNUG
    assert "±0.01 thou" in page.replace("\N{NO-BREAK SPACE}", " ")
    true = {name: f"{float(value) / 5:g}" for name, value in TURN.items() if name != "unit"}
    answer = send(bench, address, {**true, "unit": "thou"})
    page = bench.get(answer.headers["Location"]).text
    assert "Now tighten, and indicate again" in page
    assert form_on(page, "version")["kind"] == Kind.INDICATED_TIGHT


def test_only_what_can_indicate_is_offered(bench: Client, shop: Shop) -> None:
    """The shop's micrometer reads the gaps of every job."""
    _, dial_b = (
        resources.register_gauge(name=name, step=mm("0.002"), by=shop.lead, at=NOON)
        for name in ("Dial A", "Dial B")
    )
    job = make_job(shop, state=State.SET_UP)
    address = f"/jobs/{job.pk}/indicate"
    text = bench.get(address).text
    assert "Micrometer 1" not in text
    assert text.index("Dial A") < text.index("Dial B")
    send(bench, address, {"dial_1_1": "0", "dial_1_5": "0.01", "gauge": dial_b.pk})
    text = bench.get(address).text
    assert text.index("Dial B, reads") < text.index("Dial A, reads")


def test_one_dial_reading_shows_nothing(bench: Client, shop: Shop) -> None:
    job = make_job(shop, state=State.SET_UP)
    answer = send(bench, f"/jobs/{job.pk}/indicate", {"dial_1_1": "0.01"})
    assert answer.status_code == 422
    assert "two or more positions" in answer.text
    assert form_on(answer.text, "version")["dial_1_1"] == "0.01"
    assert not ReadingSet.objects.filter(kind=Kind.INDICATED_SNUG).exists()


def test_a_fixture_that_never_held_such_an_engine_is_asked_about(bench: Client, shop: Shop) -> None:
    """Plug B holds another family; Plug C is new, and nothing is asked about it."""
    other = engines.add_family(by=shop.lead, at=NOON, **{**ALDER, "name": "Birch 71"})
    plug_b, plug_c = (
        resources.register_fixture(name=name, by=shop.lead, at=NOON)
        for name in ("Plug B", "Plug C")
    )
    birch = engines.register_cylinder(family=other, serial="B-1", by=shop.lead, at=NOON)
    make_job(shop, state=State.SET_UP, cylinder=birch, fixture=plug_b)
    make_job(shop, state=State.SET_UP)
    job = make_job(shop, state=State.PLANNED, serial="C-2")
    address = f"/jobs/{job.pk}/set-up"
    asked = send(bench, address, set_up(shop, fixture=plug_b.pk))
    assert asked.status_code == 422
    words = asked.text.replace("\N{NO-BREAK SPACE}", " ")
    assert "Plug B has held other engines, and no Alder 46 yet" in words
    assert "a bore of 43.200 mm" in words
    assert send_again(bench, asked, {"confirm": "on"}).status_code == 302
    assert job.rounds.latest("number").fixture == plug_b
    assert send(bench, address, set_up(shop, fixture=plug_c.pk)).status_code == 302
