"""Who may know of which flag."""

from __future__ import annotations

from qc.actor import Actor
from qc.lookups.flags.suspected import warnings_for
from qc.lookups.flags.told import flags_for
from qc.lookups.flags.visible import anybody, may_know
from qc.lookups.pages import choices
from qc.lookups.pages.fixtures import FixtureStanding, fixture_row
from qc.models import DriftChannel, Flag, FlagState, Role, State
from qc.numerics.drift.suspects import NAMED_AT
from tests.flagged import make_flag
from tests.make import NOON, Shop, make_job, make_person


def test_what_is_about_a_person_or_names_one_is_for_them_and_the_leads(shop: Shop) -> None:
    round_ = make_job(shop, state=State.MEASURED).rounds.get()
    edge, oskar = shop.edge.pk, shop.operator.person.pk
    other = Actor(make_person("piet", Role.OPERATOR, by=shop.lead))

    def on_the_edge(*suspects: tuple[str, int, float | None]) -> Flag:
        flag = make_flag(
            round_,
            kind="edge",
            key=edge,
            channel=DriftChannel.HEIGHT,
            suspects=list(suspects),  # type: ignore[arg-type]
        )
        # Only one may stand at a time.
        Flag.objects.filter(pk=flag.pk).update(state=FlagState.WITHDRAWN, closed_at=NOON)
        return flag

    for_all = [
        on_the_edge(("edge", edge, 0.93)),
        on_the_edge(("edge", edge, None)),
        on_the_edge(("edge", edge, 0.55), ("person", oskar, 0.4)),
        on_the_edge(("person", oskar, NAMED_AT - 0.01), ("edge", edge, 0.15)),
    ]
    for_oskar = [
        make_flag(round_, kind="person", key=oskar),
        on_the_edge(("person", oskar, NAMED_AT), ("edge", edge, 0.15)),
    ]
    seen_by = [
        (shop.lead, for_all + for_oskar),
        (shop.operator, for_all + for_oskar),
        (other, for_all),
        (shop.viewer, for_all),
        (anybody(), for_all),
    ]
    for by, seen in seen_by:
        assert set(flags_for(by)) == set(seen)
        assert {one for one in Flag.objects.all() if may_know(one, by)} == set(seen)


def test_a_fixture_whose_flag_names_a_person_is_not_called_flagged(shop: Shop) -> None:
    round_ = make_job(shop, state=State.MEASURED).rounds.get()
    tied = [("fixture", shop.fixture.pk, 0.5), ("person", shop.operator.person.pk, 0.4)]
    flag = make_flag(round_, kind="fixture", key=shop.fixture.pk, suspects=tied)
    assert fixture_row(shop.fixture).standing == FixtureStanding.FLAGGED
    assert [one.things for one in warnings_for(round_, shop.viewer)] == [["Plug A"]]
    hands = {"kind": "person", "key": shop.operator.person.pk, "probability": 0.9}
    Flag.objects.filter(pk=flag.pk).update(suspects=[hands])
    assert fixture_row(shop.fixture).standing == FixtureStanding.THIN
    assert warnings_for(round_, shop.viewer) == []
    assert [one.label for one in choices.fixtures(shop.family)] == ["Plug A"]
