"""Finding jobs, opening one, and what its record shows."""

from __future__ import annotations

import json
from datetime import timedelta

import pytest
from django.test import Client

from qc.models import Cylinder, Job, JobResult, Person, Reading, State
from qc.operations import engines, readings
from qc.units import mm
from tests.dashboards.counting import queries_of
from tests.dashboards.pages import SignedIn, form_on, send, send_again
from tests.make import NOON, Shop, make_cylinder, make_job

LATER = NOON + timedelta(hours=5)


def new_job(client: Client, typed: dict[str, object], where: str = "/jobs/new") -> object:
    return send(client, where, typed, holding="serial")


def test_a_job_opens_on_a_new_cylinder(bench: Client, shop: Shop) -> None:
    typed = {
        "family": shop.family.pk,
        "serial": "K-77",
        "customer_reference": "Order 12",
        "earlier_cut": "4 thou",
        "unit": "mm",
    }
    answer = new_job(bench, typed)
    job = Job.objects.get()
    assert answer.headers["Location"] == f"/jobs/{job.pk}/as-found"
    assert str(job.cylinder.earlier_cut_mm) == "0.101600"
    assert (str(job.target_mm), str(job.floor_mm)) == ("0.500000", "0.420000")


def test_a_form_sent_twice_opens_one_job(bench: Client, shop: Shop) -> None:
    sent = form_on(bench.get("/jobs/new").text, "serial")
    sent |= {"family": shop.family.pk, "serial": "K-77", "unit": "mm"}
    first, second = bench.post("/jobs/new", sent), bench.post("/jobs/new", sent)
    assert first.status_code == second.status_code == 302
    assert first.headers["Location"] == second.headers["Location"]
    assert Job.objects.count() == 1
    # Gone back and typed anew, or the page opened anew, it is another job.
    other = bench.post("/jobs/new", {**sent, "serial": "K-78"})
    again = form_on(bench.get("/jobs/new").text, "serial")
    known = {"cylinder": Job.objects.earliest("pk").cylinder_id, "family": "", "serial": ""}
    fresh = bench.post("/jobs/new", {**again, **known, "unit": "mm", "beside_open": "on"})
    assert other.status_code == fresh.status_code == 302
    assert Job.objects.count() == 3


def test_the_same_form_of_another_person_is_another_job(
    bench: Client, lead: Client, shop: Shop
) -> None:
    sent = form_on(bench.get("/jobs/new").text, "serial")
    sent |= {"family": shop.family.pk, "serial": "K-77", "unit": "mm"}
    bench.post("/jobs/new", sent)
    refused = lead.post("/jobs/new", sent)
    assert refused.status_code == 422
    assert form_on(refused.text, "serial")["serial"] == "K-77"


def test_a_job_opens_on_a_known_cylinder_with_limits_of_its_own(bench: Client, shop: Shop) -> None:
    cylinder = make_cylinder(shop, "K-77")
    typed = {"unit": "thou", "target": "21", "tol_minus": "1.5", "tol_plus": "2"}
    page = bench.get(f"/jobs/new?cylinder={cylinder.pk}")
    sent = form_on(page.text, "serial")
    assert sent["cylinder"] == str(cylinder.pk)
    bench.post("/jobs/new", {**sent, **typed})
    job = Job.objects.get()
    assert job.cylinder == cylinder
    assert str(job.target_mm) == "0.533400"
    assert (str(job.tol_minus_mm), str(job.tol_plus_mm)) == ("0.038100", "0.050800")


def test_another_job_on_a_cylinder_at_work_is_asked_about(bench: Client, shop: Shop) -> None:
    at_work = make_job(shop, state=State.FOUND, serial="K-77")
    where = f"/jobs/new?cylinder={at_work.cylinder_id}"
    assert "beside_open" not in bench.get(where).text
    asked = new_job(bench, {"unit": "mm"}, where)
    assert asked.status_code == 422
    assert f"has job {at_work.pk} open" in asked.text
    assert f'href="/jobs/{at_work.pk}">Go on with job {at_work.pk}</a>' in asked.text
    assert Job.objects.count() == 1
    assert bench.post(where, form_on(asked.text, "serial")).status_code == 422
    sent = form_on(asked.text, "serial") | {"beside_open": "on"}
    assert bench.post(where, sent).status_code == 302
    assert at_work.cylinder.jobs.count() == 2


@pytest.mark.parametrize(
    ("ticked", "says"),
    [("beside_open", "Far from what this family is held to"), ("confirm", "has job")],
)
def test_a_tick_answers_one_question_alone(
    bench: Client, shop: Shop, ticked: str, says: str
) -> None:
    at_work = make_job(shop)
    far = {"unit": "mm", "target": "1.50", ticked: "on"}
    asked = new_job(bench, far, f"/jobs/new?cylinder={at_work.cylinder_id}")
    assert asked.status_code == 422
    assert says in asked.text
    assert form_on(asked.text, "serial")[ticked] == "on"
    assert Job.objects.count() == 1


def test_a_cylinder_whose_job_is_closed_takes_another_unasked(bench: Client, shop: Shop) -> None:
    closed = make_job(shop, state=State.RELEASED)
    answer = new_job(bench, {"unit": "mm"}, f"/jobs/new?cylinder={closed.cylinder_id}")
    assert answer.status_code == 302


def test_a_target_under_the_floor_is_shown_and_leaves_no_cylinder_behind(
    bench: Client, shop: Shop
) -> None:
    typed = {"family": shop.family.pk, "serial": "K-77", "target": "0.40"}
    answer = new_job(bench, typed)
    assert answer.status_code == 422
    words = answer.text.replace("\N{NO-BREAK SPACE}", " ")
    assert "target of 0.400 mm is under the floor of 0.420 mm" in words
    assert 'href="#id_target"' in answer.text
    assert form_on(answer.text, "serial")["serial"] == "K-77"
    assert not Cylinder.objects.exists()
    again = send_again(bench, answer, {"target": "0.45"}, holding="serial")
    assert again.status_code == 302


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"serial": "K-1"}, "Choose the new cylinder"),
        ({"family": "ours", "serial": ""}, "serial or a mark"),
        ({"family": "ours", "serial": "C-1"}, "is known here already"),
        ({"family": "ours", "serial": "K-1", "earlier_cut": "-1"}, "not negative"),
        ({"family": "ours", "serial": "K-1", "tol_plus": "0"}, "above zero on both sides"),
        ({"cylinder": "known", "serial": "K-1"}, "which is it?"),
    ],
)
def test_a_job_is_not_opened_for_a_reason_that_is_said(
    bench: Client, shop: Shop, typed: dict[str, object], said: str
) -> None:
    known = make_cylinder(shop, "C-1")
    named = {"ours": shop.family.pk, "known": known.pk}
    answer = new_job(bench, {name: named.get(value, value) for name, value in typed.items()})
    assert answer.status_code == 422
    assert said in answer.text
    assert not Job.objects.exists()
    assert Cylinder.objects.count() == 1


def test_a_cylinder_typed_anew_that_is_known_is_taken_with_one_press(
    bench: Client, shop: Shop
) -> None:
    known = make_cylinder(shop, "C-1")
    typed = {"family": shop.family.pk, "serial": "C-1", "target": "0.55", "note": "Rush"}
    refused = new_job(bench, typed)
    assert f'name="use_known" value="{known.pk}"' in refused.text
    taken = send_again(bench, refused, {"use_known": str(known.pk)}, holding="serial")
    assert taken.status_code == 302
    job = Job.objects.get()
    assert (job.cylinder, str(job.target_mm), job.note) == (known, "0.550000", "Rush")


def test_cylinders_are_found_by_words(bench: Client, shop: Shop) -> None:
    engines.register_cylinder(
        family=shop.family, serial="K-1", customer_reference="Order 12", by=shop.lead, at=NOON
    )
    make_cylinder(shop, "K-2")
    found = bench.get("/jobs/new?words=order").text
    assert "K-1" in found
    assert "K-2" not in found


def test_jobs_are_filtered_by_state_family_and_words(bench: Client, shop: Shop) -> None:
    make_job(shop, state=State.OPEN, serial="A-1")
    make_job(shop, state=State.FOUND, serial="A-2")
    make_job(shop, state=State.RELEASED, serial="A-3")

    def shown(query: str) -> set[str]:
        text = bench.get(f"/jobs?{query}").text
        return {serial for serial in ("A-1", "A-2", "A-3") if serial in text}

    assert shown("") == {"A-1", "A-2", "A-3"}
    assert shown("state=open") == {"A-1"}
    assert shown("state=at_work") == {"A-1", "A-2"}
    assert shown(f"family={shop.family.pk}&words=a-3") == {"A-3"}
    assert shown("words=a-9") == set()
    assert shown("state=nonsense&family=999&page=x") == {"A-1", "A-2", "A-3"}


def test_jobs_are_shown_a_page_at_a_time_and_keep_their_filter(bench: Client, shop: Shop) -> None:
    for n in range(26):
        make_job(shop, state=State.OPEN, serial=f"A-{n:02}")
    first = bench.get("/jobs?state=open").text
    assert "page 1 of 2" in first
    assert "A-00" not in first
    assert 'href="?state=open&amp;page=2"' in first
    assert "A-00" in bench.get("/jobs?state=open&page=2").text


def test_the_list_asks_the_database_as_often_for_30_jobs_as_for_3(
    bench: Client, shop: Shop
) -> None:
    for n in range(3):
        make_job(shop, state=State.MEASURED, serial=f"A-{n}")
    at_3 = queries_of(bench, "/jobs")
    for n in range(3, 30):
        make_job(shop, state=State.MEASURED if n < 6 else State.FOUND, serial=f"A-{n}")
    assert queries_of(bench, "/jobs") == at_3


def test_the_record_shows_every_reading_and_strikes_out_the_void_ones(
    bench: Client, shop: Shop
) -> None:
    job = make_job(shop, state=State.MEASURED)
    wrong = Reading.objects.get(set__job=job, kind="achieved", position_deg=0)
    readings.void_reading(
        reading=wrong, why="Solder slipped", replacement=mm("0.51"), by=shop.operator, at=LATER
    )
    text = bench.get(f"/jobs/{job.pk}").text
    assert text.count('<tr class="void">') == 1
    assert "Void: Solder slipped" in text
    assert "replaced by 0.51\xa0mm" in text
    assert "Earlier revisions (1)" in text
    for taken in Reading.objects.filter(set__job=job):
        assert f"{taken.entered_value}\xa0{taken.entered_unit}" in text


def test_the_record_shows_plan_passes_verdict_budget_rule_and_journal(
    bench: Client, shop: Shop
) -> None:
    job = make_job(shop, state=State.RELEASED)
    text = bench.get(f"/jobs/{job.pk}").text
    words = text.replace("\N{NO-BREAK SPACE}", " ")
    result = JobResult.objects.get()
    reasons = result.detail["verdict"]["reasons"]
    for reason in [*reasons, result.detail["verdict"]["another_pass_reason"]]:
        assert reason in words, reason
    for said in [
        "Skipped: indicating.</b> Indicated this morning",
        "Flange left after",
        "index mark at 0° on the engine",
        "2.250\xa0mm",
        result.detail["verdict"]["rule"],
        "over 99.9\xa0%",
        "Where the uncertainty comes from",
        "released the job",
    ]:
        assert said in text, said
    named = [line["name"] for line in result.detail["budget"]]
    table = text[text.index("Uncertainty budget") :]
    assert sorted(named, key=lambda name: table.index(f">{name}<")) == named


def test_the_record_names_the_next_step(bench: Client, shop: Shop) -> None:
    job = make_job(shop, state=State.SET_UP)
    text = bench.get(f"/jobs/{job.pk}").text
    assert f'href="/jobs/{job.pk}/indicate">Go to: Indicating' in text


def test_a_viewer_sees_the_record_and_no_way_to_change_it(signed_in: SignedIn, shop: Shop) -> None:
    job = make_job(shop, state=State.MEASURED)
    text = signed_in("viewer").get(f"/jobs/{job.pk}").text
    assert "Go to:" not in text
    assert "/void" not in text
    assert "/add" not in text


def test_a_closed_job_is_corrected_by_a_lead_alone(signed_in: SignedIn, shop: Shop) -> None:
    job = make_job(shop, state=State.RELEASED)
    assert "/void" not in signed_in("operator").get(f"/jobs/{job.pk}").text
    assert "/void" in signed_in("lead").get(f"/jobs/{job.pk}").text


def test_the_gap_drawing_is_json_with_the_gaps_in_it(bench: Client, shop: Shop) -> None:
    job = make_job(shop, state=State.MEASURED)
    answer = bench.get(f"/jobs/{job.pk}/rounds/1/gap.json")
    assert answer.headers["Content-Type"] == "application/json"
    figure = json.loads(answer.text)
    words = [one.get("text", "") for one in figure["layout"]["annotations"]]
    assert "0.510" in words
    assert bench.get(f"/jobs/{job.pk}/rounds/2/gap.json").status_code == 404


def test_the_verdict_speaks_the_viewers_unit(bench: Client, shop: Shop) -> None:
    """0.60 is 0.0236 in; a cut of 0.10 is 0.0039 in. On record, and for the API, it is in mm."""
    job = make_job(shop, state=State.MEASURED, achieved=dict.fromkeys((0, 90, 180, 270), "0.60"))
    Person.objects.filter(pk=shop.operator.person.pk).update(unit="in")
    words = bench.get(f"/jobs/{job.pk}/verdict").text.replace("\N{NO-BREAK SPACE}", " ")
    said = words[words.index("<h3>Why</h3>") : words.index("What it rests on")]
    assert "The height of 0.0236 in is above" in said
    assert "A cut of 0.0039 in would bring the height to 0.0197 in." in said
    assert " mm" not in said.split("</form>")[0]
    verdict = JobResult.objects.get().detail["verdict"]
    assert "0.600 mm" in verdict["reasons"][0]
    assert verdict["said"][0]["facts"]["height_mm"] == pytest.approx(0.6)


def test_what_stops_a_cut_is_told_in_the_viewers_unit(bench: Client, shop: Shop) -> None:
    """0.90 at one position: 0.48 to the floor of 0.42, where the target asks for 0.49."""
    found = {0: "1.02", 90: "1.03", 180: "1.02", 270: "0.90"}
    job = make_job(shop, state=State.PLANNED, found=found)
    Person.objects.filter(pk=shop.operator.person.pk).update(unit="thou")
    words = bench.get(f"/jobs/{job.pk}/plan").text.replace("\N{NO-BREAK SPACE}", " ")
    plan = job.rounds.get().plan
    assert plan["limited_by"] == "floor"
    assert f"The floor stops the cut at {plan['depth_mm'] / 0.0254:.1f} thou" in words


def test_a_position_that_stands_apart_is_named_with_a_way_to_void_it(
    bench: Client, shop: Shop
) -> None:
    """0.65 at 90 among 0.50: 0.15 from where the other three put it. Repeats of 0.010 explain
    4.604 x 2 x 0.010 = 0.092 (tests/numerics/test_standing_apart.py)."""
    odd = {0: "0.50", 90: "0.65", 180: "0.50", 270: "0.50"}
    job = make_job(shop, state=State.MEASURED, achieved=odd)
    reading = Reading.objects.get(kind="achieved", position_deg=90)
    for address in ("", "/verdict"):
        words = bench.get(f"/jobs/{job.pk}{address}").text.replace("\N{NO-BREAK SPACE}", " ")
        told = words[words.index("One position stands apart") :]
        assert "At 90°: +0.150 mm from where the others put it" in told
        assert "0.092 mm" in words
        assert f'href="/jobs/{job.pk}/readings/{reading.pk}/void"' in told
    readings.void_reading(
        reading=reading, why="Misread", replacement=mm("0.51"), by=shop.operator, at=LATER
    )
    assert "stands apart" not in bench.get(f"/jobs/{job.pk}/verdict").text


def test_the_plan_tells_what_the_cut_does_in_the_viewers_unit(bench: Client, shop: Shop) -> None:
    """As found 1.01 at the tightest is 0.0398 in; 13.9 m/s is twice 31.6 mm at 13 200 rpm."""
    job = make_job(shop, state=State.PLANNED)
    Person.objects.filter(pk=shop.operator.person.pk).update(unit="in")
    words = bench.get(f"/jobs/{job.pk}/plan").text.replace("\N{NO-BREAK SPACE}", " ")
    effects = words[words.index("What the cut does to the engine") :]
    assert "0.0398 in" in effects
    assert "13.9 m/s" in effects
    assert "37 %" in effects
    assert " mm</td>" not in effects


def test_the_page_runs_nothing_inline(bench: Client, shop: Shop) -> None:
    job = make_job(shop, state=State.MEASURED)
    for address in ("", "/verdict", "/achieved", "/plan"):
        text = bench.get(f"/jobs/{job.pk}{address}").text
        assert "<script>" not in text
        assert " style=" not in text
        assert " onclick" not in text
