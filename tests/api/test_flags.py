"""What bench tools are told of flags, and what leads' tools may say of them."""

from __future__ import annotations

from jsonschema import Draft202012Validator

from api.webhooks import PROBABILITY
from qc.lookups.flags.told import flag_line
from qc.lookups.flags.visible import anybody
from qc.lookups.flags.webhook_body import webhook_body
from qc.models import DriftChannel, Flag, Happening, State
from qc.operations import resources
from tests.api.bench import Bench, mm
from tests.flagged import make_flag
from tests.make import NOON, Shop, make_job


def tied_flag(shop: Shop, *chances: float) -> Flag:
    """About the edge; the lathe is the other suspect."""
    round_ = make_job(shop, state=State.MEASURED).rounds.get()
    edge, lathe = chances or (0.55, 0.4)
    return make_flag(
        round_,
        kind="edge",
        key=shop.edge.pk,
        channel=DriftChannel.HEIGHT,
        suspects=[("edge", shop.edge.pk, edge), ("lathe", shop.lathe.pk, lathe)],
    )


def test_a_probability_is_never_told_as_certain(shop: Shop, viewer: Bench) -> None:
    flag = tied_flag(shop, 0.99987, 0.00013)
    told = viewer.get(f"flags/{flag.pk}").json
    assert [one["probability"] for one in told["suspects"]] == [0.99, 0.0]
    assert told["named"]["probability"] == 0.99
    hook = webhook_body(Happening.RAISED, flag_line(flag, anybody()), at=NOON)["data"]
    assert (hook["probability"], hook["named"]["probability"]) == (0.99, 0.99)
    assert Draft202012Validator(PROBABILITY).is_valid(hook["probability"])
    assert not Draft202012Validator(PROBABILITY).is_valid(1.0)
    Flag.objects.filter(pk=flag.pk).update(
        suspects=[{"kind": "edge", "key": shop.edge.pk, "probability": 0.87654}]
    )
    assert viewer.get(f"flags/{flag.pk}").json["named"]["probability"] == 0.877


def test_a_service_says_whether_a_cause_was_found(shop: Shop, lead: Bench) -> None:
    flag = tied_flag(shop)
    where = f"lathes/{shop.lathe.pk}/service"
    bare = lead.post(where, {"kind": "repaired", "found": "here"})
    assert (bare.status_code, bare.json["code"]) == (422, "reason_needed")
    assert bare.json["fields"][0]["name"] == "note"
    order = {"kind": "repaired", "found": "in_order", "note": "Dial is right"}
    assert lead.post(where, order).status_code == 201
    told = lead.get(f"flags/{flag.pk}").json
    assert (told["state"], told["service"]) == ("raised", None)
    [check] = told["checks"]
    assert (check["suspect"]["name"], check["by"]) == ("North lathe", "Lena")
    assert check["note"] == "Dial is right"
    found = {"kind": "dressed", "found": "here", "note": "A chip", "as_found": mm("0.02")}
    assert lead.post(f"edges/{shop.edge.pk}/service", found).status_code == 201
    told = lead.get(f"flags/{flag.pk}").json
    assert (told["state"], told["cause"]["name"]) == ("cause_found", "Insert 1")
    assert told["service"]["subject"] == {"id": shop.edge.pk, "name": "Insert 1"}
    assert (told["service"]["of"], float(told["service"]["as_found"]["value"])) == ("edge", 0.02)
    late = lead.post(where, order)
    assert (late.status_code, late.json["fields"][0]["name"]) == (422, "found")


def test_a_fresh_edge_says_what_was_seen_on_the_old_one(shop: Shop, lead: Bench) -> None:
    flag = tied_flag(shop)
    fresh = {"lathe": shop.lathe.pk, "slot": "1", "name": "Insert 2", "edge_radius_um": 15}
    bare = lead.post("edges", {**fresh, "found": "here"})
    assert (bare.status_code, bare.json["fields"][0]["name"]) == (422, "found_note")
    assert lead.post("edges", {**fresh, "found": "here", "found_note": "Worn"}).status_code == 201
    told = lead.get(f"flags/{flag.pk}").json
    assert (told["state"], told["service"]["kind"]) == ("cause_found", "edge_changed")


def test_no_cause_in_some_leaves_the_flag_to_the_others(shop: Shop, lead: Bench) -> None:
    flag = tied_flag(shop)
    none = {"state": "none_found", "why": "Sharp"}
    edge = {"kind": "edge", "id": shop.edge.pk}
    wrong = {**none, "looked_at": [{"kind": "gauge", "id": 1}]}
    assert lead.post(f"flags/{flag.pk}/close", wrong).json["fields"][0]["name"] == "looked_at"
    odd = {"state": "cause_found", "why": "Worn", "looked_at": [edge]}
    assert lead.post(f"flags/{flag.pk}/close", odd).json["fields"][0]["name"] == "looked_at"
    some = lead.post(f"flags/{flag.pk}/close", {**none, "looked_at": [edge]}).json
    assert (some["state"], some["closed"]) == ("raised", None)
    assert [one["suspect"]["kind"] for one in some["checks"]] == ["edge"]
    assert lead.post(f"flags/{flag.pk}/close", none).json["state"] == "none_found"


def test_what_came_of_a_cleared_flag_is_said_afterwards(shop: Shop, lead: Bench) -> None:
    flag = tied_flag(shop)
    lathe = {"kind": "lathe", "id": shop.lathe.pk}
    said = {"state": "cause_found", "why": "The stop slipped", "cause": lathe}
    early = lead.post(f"flags/{flag.pk}/finding", said)
    assert (early.status_code, early.json["code"]) == (422, "bad_input")
    lead.post(f"lathes/{shop.lathe.pk}/service", {"kind": "repaired"})
    nowhere = lead.post(f"flags/{flag.pk}/finding", {"state": "cause_found", "why": "x"})
    assert nowhere.json["fields"][0]["name"] == "cause"
    told = lead.post(f"flags/{flag.pk}/finding", said).json
    assert (told["state"], told["finding"]["state"]) == ("cleared", "cause_found")
    assert (told["finding"]["by"], told["finding"]["note"]) == ("lena", "The stop slipped")
    assert told["cause"]["name"] == "North lathe"


def test_a_decision_names_the_version_it_saw(shop: Shop, lead: Bench) -> None:
    flag = tied_flag(shop)
    where = f"flags/{flag.pk}/decide"
    seen = lead.get(f"flags/{flag.pk}").json["decision"]["version"]
    put_off = {"answer": "put_off", "why": "Race week", "until": "2126-05-05", "version": seen}
    told = lead.post(where, put_off).json["decision"]
    assert (told["until"], told["version"]) == ("2126-05-05", seen + 1)
    stale = lead.post(where, {"answer": "accepted", "version": seen})
    assert (stale.status_code, stale.json["code"]) == (412, "changed_meanwhile")
    past = lead.post(where, {**put_off, "version": seen + 1, "until": "2020-01-01"})
    assert (past.status_code, past.json["fields"][0]["name"]) == (422, "until")
    odd = lead.post(where, {"answer": "accepted", "until": "2126-05-05"})
    assert (odd.status_code, odd.json["fields"][0]["name"]) == (422, "until")
    done = lead.post(where, {"answer": "accepted"}).json["decision"]
    assert (done["answer"], done["until"]) == ("accepted", None)
    twice = lead.post(where, {"answer": "accepted"})
    assert (twice.status_code, twice.json["fields"][0]["name"]) == (422, "answer")
    otherwise = lead.post(where, {"answer": "put_off", "why": "No setter"}).json["decision"]
    assert (otherwise["answer"], otherwise["version"]) == ("put_off", seen + 3)


def test_a_service_of_a_retired_thing_is_refused(shop: Shop, lead: Bench) -> None:
    resources.retire(resource=shop.lathe, why="Sold", by=shop.lead, at=NOON)
    refused = lead.post(f"lathes/{shop.lathe.pk}/service", {"kind": "repaired"})
    assert (refused.status_code, refused.json["code"]) == (422, "retired")
    assert refused.json["detail"] == (
        "Lathe North lathe is retired: no service of it is recorded any more."
    )
