"""What leads do about flags on the pages: at a service, by closing, deciding, and afterwards."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client

from qc import outbox
from qc.models import (
    Decision,
    DriftChannel,
    Flag,
    FlagCheck,
    FlagState,
    OutboxItem,
    Round,
    State,
    ToolEdge,
)
from qc.operations import resources
from tests.dashboards.pages import form_on, send
from tests.flagged import make_flag
from tests.make import NOON, Shop, make_job

LATER = NOON + timedelta(days=1)
SERVICE = "/shop/lathes/{}/service"
ADJUSTED = {"kind": "adjusted"}


@pytest.fixture
def round_(shop: Shop) -> Round:
    return make_job(shop, state=State.MEASURED).rounds.get()


@pytest.fixture
def flag(shop: Shop, round_: Round) -> Flag:
    return tied_flag(shop, round_)


def tied_flag(shop: Shop, round_: Round) -> Flag:
    return make_flag(
        round_,
        kind="edge",
        key=shop.edge.pk,
        channel=DriftChannel.HEIGHT,
        suspects=[("edge", shop.edge.pk, 0.55), ("lathe", shop.lathe.pk, 0.4)],
    )


def test_a_service_asks_whether_a_cause_was_found_only_where_a_flag_suspects_it(
    shop: Shop, lead: Client, round_: Round
) -> None:
    where = SERVICE.format(shop.lathe.pk)
    assert "Was a cause found?" not in lead.get(where).text
    flag = make_flag(
        round_, kind="lathe", key=shop.lathe.pk, channel=DriftChannel.HEIGHT, size=0.02
    )
    page = lead.get(where).text
    assert "Was a cause found?" in page
    assert f'<a href="/flags/{flag.pk}">North lathe seems to have moved</a>' in page
    assert form_on(page, "note")["found"] == "not_known"


def test_a_cause_found_at_a_service_closes_the_flag_with_it(
    shop: Shop, lead: Client, flag: Flag
) -> None:
    where = SERVICE.format(shop.lathe.pk)
    bare = send(lead, where, {**ADJUSTED, "found": "here", "note": ""}, holding="note")
    assert bare.status_code == 422
    assert "A cause that was found needs a reason" in bare.text
    found = {"kind": "repaired", "found": "here", "note": "The stop slipped"}
    assert send(lead, where, found, holding="note").status_code == 302
    page = lead.get(f"/flags/{flag.pk}").text
    assert "cause found, in North lathe." in page
    assert f'Repaired: <a href="/shop/lathes/{shop.lathe.pk}">North lathe</a>' in page
    assert page.count("The stop slipped") == 2  # at the service, and in the history
    assert "1 of 1 flag that was looked into had a cause." in lead.get("/flags").text


def test_a_thing_tells_of_the_flag_whose_cause_lay_in_it(
    shop: Shop, lead: Client, round_: Round
) -> None:
    flag = make_flag(
        round_,
        kind="lathe",
        key=shop.lathe.pk,
        channel=DriftChannel.HEIGHT,
        suspects=[("lathe", shop.lathe.pk, 0.55), ("edge", shop.edge.pk, 0.4)],
    )
    found = {"kind": "edge_changed", "found": "here", "note": "Worn round"}
    send(lead, f"/shop/edges/{shop.edge.pk}/service", found, holding="note")
    assert f'href="/flags/{flag.pk}"' in lead.get(f"/shop/edges/{shop.edge.pk}").text
    assert "When it was closed the jobs alone did not" in lead.get(f"/flags/{flag.pk}").text


def test_what_was_in_order_is_shown_and_the_flag_stays_open(
    shop: Shop, lead: Client, flag: Flag
) -> None:
    where = SERVICE.format(shop.lathe.pk)
    send(lead, where, {**ADJUSTED, "found": "in_order", "note": "Dial is right"}, holding="note")
    page = lead.get(f"/flags/{flag.pk}").text
    assert "<dt>In order</dt><dd>North lathe, " in page
    assert "Dial is right" in page
    assert "Close with what was found" in page


def test_a_fresh_edge_asks_about_the_old_one(shop: Shop, lead: Client, flag: Flag) -> None:
    where = f"/shop/edges/new?lathe={shop.lathe.pk}&slot=1"
    page = lead.get(where).text
    assert "An open flag suspects Insert 1." in page
    typed = {**form_on(page, "slot"), "name": "Insert 2", "edge_radius_um": "15"}
    bare = lead.post(where, {**typed, "found": "here"})
    assert bare.status_code == 422
    assert bare.context["form"].errors.keys() == {"found_note"}
    done = lead.post(where, {**typed, "found": "here", "found_note": "A chip"})
    assert done.status_code == 302
    flag.refresh_from_db()
    assert (flag.state, flag.cause_kind) == (FlagState.CAUSE_FOUND, "edge")
    assert ToolEdge.objects.get(retired_at=None).name == "Insert 2"
    assert "Was a cause found?" not in lead.get(where).text


def test_while_it_may_be_another_the_next_jobs_are_left_to_tell(
    shop: Shop, lead: Client, flag: Flag
) -> None:
    where = SERVICE.format(shop.lathe.pk)
    assert form_on(lead.get(where).text, "note")["found"] == "to_be_seen"
    send(lead, where, {**ADJUSTED, "note": "Gone over"}, holding="note")
    page = lead.get(f"/flags/{flag.pk}").text
    assert "<dt>Put right to see</dt><dd>North lathe, " in page
    assert "The jobs after that tell whether it was the one." in page
    assert "Put one of them right, for the next jobs to tell" in page


def test_an_edge_for_an_empty_slot_is_fitted_whatever_stands_there(
    shop: Shop, lead: Client, flag: Flag
) -> None:
    where = f"/shop/edges/new?lathe={shop.lathe.pk}&slot=2"
    typed = {**form_on(lead.get(where).text, "slot"), "name": "Insert 2", "edge_radius_um": "15"}
    assert typed["found"] == "to_be_seen"
    assert lead.post(where, typed).status_code == 302
    assert ToolEdge.objects.filter(retired_at=None).count() == 2


def test_closing_with_none_found_asks_which_were_looked_at(
    shop: Shop, lead: Client, flag: Flag
) -> None:
    where = f"/flags/{flag.pk}/close"
    page = lead.get(where).text
    edge, lathe = f"edge {shop.edge.pk}", f"lathe {shop.lathe.pk}"
    for one in (edge, lathe):
        assert f'name="looked_at" value="{one}"' in page
    none = {"state": "none_found", "why": "Sharp"}
    assert lead.post(where, none).context["form"].errors.keys() == {"looked_at"}
    some = lead.post(where, {**none, "looked_at": [edge]}, follow=True).text
    assert "The flag stays open for the others." in some
    assert FlagCheck.objects.get().kind == "edge"
    done = lead.post(where, {**none, "looked_at": [lathe]}, follow=True).text
    assert "The flag is closed." in done
    flag.refresh_from_db()
    assert flag.state == FlagState.NONE_FOUND


def test_ticked_boxes_say_nothing_where_a_cause_was_found(
    shop: Shop, lead: Client, flag: Flag
) -> None:
    edge = f"edge {shop.edge.pk}"
    found = {"state": "cause_found", "why": "A chip", "cause": edge, "looked_at": [edge]}
    assert lead.post(f"/flags/{flag.pk}/close", found).status_code == 302
    assert not FlagCheck.objects.exists()


def test_what_came_of_a_cleared_flag_is_told_and_corrected(
    shop: Shop, lead: Client, bench: Client, flag: Flag
) -> None:
    where = f"/flags/{flag.pk}"
    assert "there more to say" in lead.get(f"{where}/finding").text
    send(
        lead,
        SERVICE.format(shop.lathe.pk),
        {**ADJUSTED, "note": "Gone over", "found": "not_known"},
        holding="note",
    )
    page = lead.get(where).text
    assert "cleared by service." in page
    assert "Say what came of it" in page
    assert "Say what came of it" not in bench.get(where).text
    assert "No flag has been closed with what was found yet." in lead.get("/flags").text
    lathe = f"lathe {shop.lathe.pk}"
    bare = lead.post(f"{where}/finding", {"found": lathe, "why": ""})
    assert bare.status_code == 422
    told = {"found": lathe, "why": "The stop had slipped"}
    page = lead.post(f"{where}/finding", told, follow=True).text
    assert "cleared by service; afterwards: cause found, in North lathe." in page
    assert "The stop had slipped" in page
    assert "1 of 1 flag that was looked into had a cause." in lead.get("/flags").text
    assert "Correct what came of it" in page
    page = lead.post(f"{where}/finding", {"found": "none", "why": "Misread"}, follow=True).text
    assert "cleared by service; afterwards: no cause found." in page
    assert "0 of 1 flag that was looked into had a cause." in lead.get("/flags").text


def test_retiring_warns_of_the_flag_it_withdraws(shop: Shop, lead: Client, round_: Round) -> None:
    where = f"/shop/fixtures/{shop.fixture.pk}"
    assert "An open flag is about it" not in lead.get(f"{where}/retire").text
    flag = make_flag(round_, kind="fixture", key=shop.fixture.pk)
    page = lead.get(f"{where}/retire").text
    assert "An open flag is about it" in page
    assert f'<a href="/flags/{flag.pk}">' in page
    lead.post(f"{where}/retire", {"why": "Cracked"})
    assert "Plug A was retired: Cracked" in lead.get(f"/flags/{flag.pk}").text
    assert "Plug A seems to have moved" not in lead.get("/").text
    told = lead.get(f"{where}/service").text
    assert "Plug A is retired: no service of it is recorded any more." in told
    sent = lead.post(f"{where}/service", {"kind": "re_indicated"})
    assert sent.status_code == 422
    assert "no service of it is recorded any more" in sent.text


def test_a_retired_suspect_is_not_offered_for_service(shop: Shop, lead: Client, flag: Flag) -> None:
    assert "Record what was done to North lathe" in lead.get(f"/flags/{flag.pk}").text
    resources.retire(resource=shop.lathe, why="Sold", by=shop.lead, at=LATER)
    page = lead.get(f"/flags/{flag.pk}").text
    assert "Record what was done to Insert 1" in page
    assert "Record what was done to North lathe" not in page


def test_a_stale_tab_overwrites_no_decision(lead: Client, flag: Flag) -> None:
    where = f"/flags/{flag.pk}/decide"
    stale = form_on(lead.get(where).text, "why")
    first = {"answer": "put_off", "why": "Race week", "until": "2126-05-05"}
    send(lead, where, first, holding="why")
    refused = lead.post(where, {**stale, "answer": "accepted"})
    assert refused.status_code == 409
    assert "Someone else saved what is decided about this flag" in refused.text
    assert "Put off by Lena, " in refused.text
    assert "Race week" in refused.text
    # Having seen it, they may.
    again = {**form_on(refused.text, "why"), "answer": "accepted"}
    assert lead.post(where, again).status_code == 302
    flag.decision.refresh_from_db()
    assert (flag.decision.answer, flag.decision.version) == ("accepted", 3)
    page = lead.get(f"/flags/{flag.pk}").text
    assert "Accepted what was recommended" in page
    assert "Put off what was recommended" in page
    assert page.count("Race week") == 1
    assert "5 May 2126" in page


def test_an_accepted_decision_is_changed_with_a_reason_and_the_older_one_is_kept(
    shop: Shop, lead: Client, bench: Client, flag: Flag
) -> None:
    where = f"/flags/{flag.pk}"
    send(lead, f"{where}/decide", {"answer": "accepted", "why": "Sunday"}, holding="why")
    assert "Decide otherwise" in lead.get(where).text
    assert "Decide otherwise" not in bench.get(where).text
    page = lead.get(f"{where}/decide").text
    assert "Accepted by Lena, " in page
    assert 'type="radio"' not in page
    assert form_on(page, "why")["answer"] == "put_off"
    assert "Why is it put off after all?" in page
    bare = send(lead, f"{where}/decide", {"answer": "put_off", "why": ""}, holding="why")
    assert bare.status_code == 422
    later = {"answer": "put_off", "why": "No setter", "until": "2126-05-05"}
    assert send(lead, f"{where}/decide", later, holding="why").status_code == 302
    flag.decision.refresh_from_db()
    assert (flag.decision.answer, flag.decision.version) == ("put_off", 3)
    page = lead.get(where).text
    assert "Put off by Lena until 5 May 2126: No setter." in page
    history = page[page.index("What was done about it") :]
    assert history.index("Put off what was recommended") < history.index(
        "Accepted what was recommended"
    )
    assert "Sunday" in history


def test_what_is_put_off_comes_before_what_tells_its_suspects_apart(
    shop: Shop, lead: Client, flag: Flag
) -> None:
    assert "Next: tell them apart." in lead.get("/").text
    decide = f"/flags/{flag.pk}/decide"
    send(
        lead,
        decide,
        {"answer": "put_off", "why": "Race week", "until": "2126-05-05"},
        holding="why",
    )
    today = lead.get("/").text
    assert "Next: tell them apart." not in today
    put_off, apart = "Put off by Lena until 5 May 2126: Race week.", "what would tell them apart"
    assert today.index(put_off) < today.index(apart)
    assert today.count(put_off) == 1
    page = lead.get(f"/flags/{flag.pk}").text
    assert f'<p class="answer">{put_off}</p>' in page
    assert page.count("Race week") == 2  # as decided, and in the history
    Decision.objects.filter(flag=flag).update(put_off_until="2026-01-01")
    today = lead.get("/").text
    assert "Next: tell them apart." in today
    assert "That day has come: decide again." in today


def test_a_flags_page_says_while_the_watch_is_working_in_what_was_done(
    shop: Shop, lead: Client, round_: Round
) -> None:
    outbox.drain()
    flag = tied_flag(shop, round_)
    where, edge = f"/flags/{flag.pk}", f"edge {shop.edge.pk}"
    other = make_flag(round_, kind="gauge", key=shop.gauge.pk, channel=DriftChannel.HEIGHT)
    assert "working" not in lead.get(where).text
    none = {"state": "none_found", "why": "Sharp", "looked_at": [edge]}
    lead.post(f"{where}/close", none)
    assert "The watch is working in what was done since" in lead.get(where).text
    lead.post(f"{where}/close", {"state": "cause_found", "why": "Worn", "cause": edge})
    assert "The watch is working this in: the charts" in lead.get(where).text
    assert "The watch is working in" in lead.get(f"/flags/{other.pk}").text
    OutboxItem.objects.filter(arguments__since=_closed_at(flag)).update(done_at=NOON)
    assert "working" not in lead.get(where).text
    assert "The watch is working in" in lead.get(f"/flags/{other.pk}").text
    outbox.drain()
    assert "working" not in lead.get(f"/flags/{other.pk}").text


def _closed_at(flag: Flag) -> str:
    flag.refresh_from_db()
    assert flag.closed_at is not None
    return flag.closed_at.isoformat()
