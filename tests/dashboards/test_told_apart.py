"""What tells two suspects apart: on the flag's page, and on the set-up it asks for."""

from __future__ import annotations

import re
from html import unescape

import numpy as np
import pytest
from django.test import Client
from django.utils import timezone

from qc.models import Decision, DriftChannel, Flag, Recommended, State
from qc.numerics.drift import Budget, Watch, jobs
from qc.operations import closing
from tests.cutting import cut_job
from tests.dashboards.pages import SignedIn, send
from tests.flagged import make_flag
from tests.make import NOON, Shop, make_job

JOBS, MOVED = 60, 40


def watched(monkeypatch: pytest.MonkeyPatch, **told: object) -> None:
    """The page's watch after JOBS jobs that were told so."""
    watch = Watch(budget=Budget(), on_flag="hold")
    watch.take(jobs(JOBS, **told))
    for view in ("flags", "lathe"):
        monkeypatch.setattr(f"dashboards.views.{view}.watch_now", lambda: watch)


def leaning(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> Flag:
    """One fixture in one pair of hands, clocked one way and never read as found: from job MOVED on
    gaps are 0.030 mm wider on one side. The shop's newest jobs have two, none as found."""
    lean = np.random.default_rng(7).normal(0, 0.010, (JOBS, 2))
    lean[MOVED:, 0] += 0.030
    watched(
        monkeypatch,
        fixture=np.where(np.arange(JOBS) % 2, shop.fixture.pk, 900),
        operator=np.where(np.arange(JOBS) % 2, shop.operator.person.pk, 901),
        clocking_deg=np.zeros(JOBS),
        tilt_achieved_mm=np.where((np.arange(JOBS) % 2)[:, None], lean, lean * 0.2),
    )
    two = jobs(5, tilt_achieved_mm=[(0.01, np.nan)] * 5, achieved_axis_deg=[90.0] * 5)
    monkeypatch.setattr("qc.lookups.watch.as_recorded.as_jobs", lambda *_, **__: two)
    round_ = cut_job(shop, "one", learn=False).rounds.get()
    who = [("fixture", shop.fixture.pk, 0.6), ("person", shop.operator.person.pk, 0.39)]
    return make_flag(round_, kind="fixture", key=shop.fixture.pk, suspects=who)


def test_a_job_is_foretold_as_the_shop_reads_its_jobs_and_put_on_from_the_flag(
    shop: Shop, lead: Client, bench: Client, signed_in, monkeypatch: pytest.MonkeyPatch
) -> None:
    flag = leaning(shop, monkeypatch)
    where = f"/flags/{flag.pk}"
    assert "No job waits for its set-up now" in lead.get(where).text
    waiting = make_job(shop, state=State.PLANNED)
    page = unescape(lead.get(where).text)
    assert re.search(
        r"One job with fixture Plug A, clocking \d+°, measured by \w+, read at two positions, "
        r"without as-found readings, as the shop's last jobs mostly were\.",
        page,
    )
    [as_read] = re.findall(r"Of 100 times that such a job is done, (\d+) settle which", page)
    [fully] = re.findall(
        r"at four positions, as found too, it would settle it (\d+) times in 100", page
    )
    assert int(fully) >= int(as_read) + 10
    assert "Of the two, Plug A is 61 % likely now" in page
    assert not re.search(
        r"\d:\d", page[page.index("leading two apart") : page.index("history-head")]
    )
    [link] = re.findall(rf'href="(/jobs/{waiting.pk}/set-up[^"]*)">Put it on as job', page)
    filled = bench.get(link).text
    assert "so that the job tells Plug A and Oskar&#x27;s technique apart." in filled
    assert f'<option value="{shop.fixture.pk}" selected>' in filled
    [clocking] = re.findall(r"clocking=(\d+)", link)
    assert re.search(rf'name="clocking" value="{clocking}"', filled)
    hidden = signed_in("viewer").get(where).text
    assert "Of 100 times" in hidden
    assert "measured by" not in hidden
    assert "Put it on" not in hidden


def test_a_job_that_was_put_on_is_told_of_on_its_pages_and_the_flags(
    shop: Shop, lead: Client, bench: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    flag = leaning(shop, monkeypatch)
    where = f"/flags/{flag.pk}"
    job = make_job(shop, state=State.PLANNED)
    [link] = re.findall(r'href="([^"]*)">Put it on as job', unescape(lead.get(where).text))
    saved = send(lead, link, {"edge": str(shop.edge.pk)}, holding="fixture")
    assert saved.status_code == 302
    for page in ("", "/indicate"):
        told = unescape(bench.get(f"/jobs/{job.pk}{page}").text)
        assert "This job is to tell two suspects of a flag apart." in told
        # Who is to measure it is not said: a person is suspected, and everybody reads this.
        assert "may have moved" not in told
        assert re.search(r"It takes: One job with fixture Plug A, clocking \d+°, read", told)
    page = lead.get(where).text
    assert re.search(rf"<dt>Cut to tell</dt><dd><a [^>]*>Job {job.pk}</a>, under way.", page)
    measured = job.rounds.filter(pk=job.rounds.get().pk)
    measured.update(achieved_set=flag.raised_by.achieved_set)
    assert "to tell two suspects" not in bench.get(f"/jobs/{job.pk}").text
    measured.update(achieved_set=None)
    closing.drop(job=job, by=shop.operator, at=NOON, why="Another bore")
    assert "Cut to tell" not in lead.get(where).text
    # Without the flag's own link it is a job like any other.
    other = make_job(shop, state=State.SET_UP, serial="other")
    assert "to tell two suspects" not in bench.get(f"/jobs/{other.pk}").text


def test_a_set_up_asked_for_by_a_flag_one_may_not_know_is_not_there(
    shop: Shop, lead: Client, bench: Client
) -> None:
    round_ = cut_job(shop, "one", learn=False).rounds.get()
    flag = make_flag(round_, kind="person", key=shop.lead.person.pk)
    job = make_job(shop, state=State.PLANNED)
    where = f"/jobs/{job.pk}/set-up?flag={flag.pk}"
    assert (lead.get(where).status_code, bench.get(where).status_code) == (200, 404)


def test_a_jobs_journal_names_nobody_whom_its_flag_is_about(
    shop: Shop, lead: Client, bench: Client
) -> None:
    round_ = cut_job(shop, "one", learn=False).rounds.get()
    flag = make_flag(round_, kind="person", key=shop.lead.person.pk)
    job = make_job(shop, state=State.PLANNED)
    filled_in = {
        "fixture": str(shop.fixture.pk),
        "edge": str(shop.edge.pk),
        "operator": str(shop.operator.person.pk),
        "clocking": "90",
    }
    where = f"/jobs/{job.pk}/set-up?flag={flag.pk}"
    assert send(lead, where, filled_in, holding="fixture").status_code == 302
    told = unescape(bench.get(f"/jobs/{job.pk}").text)
    assert f"Flag {flag.pk}" in told
    assert f"{shop.lead.person} flagged" not in told
    [entry] = job.journal.filter(action="round.set_up")
    assert entry.after["tells_apart"] == f"Flag {flag.pk}"


def test_a_lathe_and_its_only_edge_are_told_apart_by_a_fresh_edge_and_its_minutes(
    shop: Shop, lead: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    odd = np.arange(JOBS) % 2 == 1
    error = np.random.default_rng(7).normal(0, 0.010, JOBS)
    error += np.where(odd & (np.arange(JOBS) >= MOVED), 0.060, 0.0)
    watched(
        monkeypatch,
        lathe=np.where(odd, shop.lathe.pk, 900),
        edge=np.where(odd, shop.edge.pk, 901),
        edge_jobs=np.zeros(JOBS),
        height_error_mm=error,
    )
    round_ = cut_job(shop, "one", learn=False).rounds.get()
    flag = make_flag(
        round_,
        kind="edge",
        key=shop.edge.pk,
        channel=DriftChannel.HEIGHT,
        size=0.06,
        suspects=[("edge", shop.edge.pk, 0.5), ("lathe", shop.lathe.pk, 0.5)],
    )
    page = unescape(lead.get(f"/flags/{flag.pk}").text)
    assert "First fit a fresh edge in place of Insert 1, 15 minutes by the shop's settings" in page
    [settled] = re.findall(r"Of 100 times that this is done, (\d+) settle which", page)
    assert int(settled) > 50
    shop_policy = "qc.lookups.flags.telling_apart.shop_policy"
    dear = type("Dear", (), {"edge_minutes": 200, "lathe_minutes": 30})()
    monkeypatch.setattr(shop_policy, lambda: dear)
    page = unescape(lead.get(f"/flags/{flag.pk}").text)
    assert "First go over the dial, stop and play of North lathe, 30 minutes by" in page
    assert "then one job with North lathe: tool edge Insert 1" in page


def test_a_gauge_is_told_from_hands_by_a_job_that_says_what_read_it_as_found(
    shop: Shop, lead: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The shop's one gauge reads every cylinder before and after, so what it reads wrong cancels:
    the next job shows hands that moved, and nothing of the gauge."""
    odd = np.arange(JOBS) % 2 == 1
    error = np.random.default_rng(7).normal(0, 0.010, JOBS)
    error += np.where(odd & (np.arange(JOBS) >= MOVED), 0.060, 0.0)
    watched(
        monkeypatch,
        operator=np.where(odd, shop.operator.person.pk, 901),
        gauge_achieved=np.where(odd, shop.gauge.pk, 900),
        gauge_found=np.full(JOBS, 902),
        height_error_mm=error,
    )
    round_ = cut_job(shop, "one", learn=False).rounds.get()
    flag = make_flag(
        round_,
        kind="gauge",
        key=shop.gauge.pk,
        channel=DriftChannel.HEIGHT,
        size=0.06,
        suspects=[("gauge", shop.gauge.pk, 0.5), ("person", shop.operator.person.pk, 0.5)],
    )
    page = unescape(lead.get(f"/flags/{flag.pk}").text)
    assert re.search(
        r"One job with tool edge Insert 1, measured by \w+, gauge Micrometer 1, "
        r"as found with gauge Micrometer 1\.",
        page,
    )


def test_a_recommendation_to_check_first_says_what_and_whether_that_is_done(
    shop: Shop, lead: Client, signed_in: SignedIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    flag = leaning(shop, monkeypatch)
    where = f"/flags/{flag.pk}"
    page = unescape(lead.get(where).text)
    said = "check first which it is: Plug A or Oskar's technique. Not answered yet."
    assert said in page
    [best] = re.findall(r'What tells most now: <a href="#apart">(one job with [^<]*)</a>\.', page)
    assert "fixture Plug A, clocking" in best
    assert "Oskar" not in best.replace("measured by Oskar", "")
    viewers = unescape(signed_in("viewer").get(where).text)
    assert "check first which it is: Plug A or somebody's technique." in viewers
    for place in ("/", "/flags"):
        told = unescape(lead.get(place).text)
        assert "check first which it is: Plug A or Oskar's technique. Not decided yet." in told
    job = make_job(shop, state=State.PLANNED)
    [link] = re.findall(r'href="([^"]*)">Put it on as job', unescape(lead.get(where).text))
    send(lead, link, {"edge": str(shop.edge.pk)}, holding="fixture")
    on = f"job {job.pk} was put on to tell them apart"
    for place in (where, "/", "/flags"):
        told = lead.get(place).text
        assert f"Being followed: {on}." in told
        assert "Not answered yet" not in told
        assert "Not decided yet" not in told
    seen = {"kind": "re_indicated", "as_left_mm": "0.004", "found": "to_be_seen", "note": ""}
    lead.post(f"/shop/fixtures/{shop.fixture.pk}/service", seen)
    today = timezone.localdate()
    right = f"Plug A was put right {today.day} {today:%b %Y}"
    assert f"Being followed: {right}, and the next jobs tell; {on}." in lead.get(where).text
    lead.post(f"{where}/close", {"state": "cause_found", "why": "The jaws", "cause": ""})
    page = lead.get(where).text
    assert f"Followed: {right} to see what the next jobs read; {on}." in page
    assert "never answered" not in page
    assert "What tells most now" not in page


def test_one_that_nobody_followed_or_that_asks_for_no_check_is_told_so(
    shop: Shop, lead: Client
) -> None:
    round_ = make_job(shop, state=State.MEASURED).rounds.get()
    flag = make_flag(round_, kind="lathe", key=shop.lathe.pk)
    where = f"/flags/{flag.pk}"
    assert "check North lathe first. Not answered yet." in lead.get(where).text
    lead.post(f"{where}/close", {"state": "cause_found", "why": "The stop"})
    assert "check North lathe first. It was never answered." in lead.get(where).text
    other = make_flag(round_, kind="fixture", key=shop.fixture.pk)
    Decision.objects.filter(flag=other).update(recommended=Recommended.RUN_ON)
    seen = {"kind": "dressed", "found": "to_be_seen", "note": ""}
    lead.post(f"/shop/fixtures/{shop.fixture.pk}/service", seen)
    assert "run on. Not answered yet." in lead.get(f"/flags/{other.pk}").text
