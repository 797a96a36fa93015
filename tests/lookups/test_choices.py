"""What forms offer, and in which order."""

from __future__ import annotations

from qc.lookups.pages import choices
from qc.models import State
from qc.operations import resources
from tests.make import NOON, Shop, make_job


def test_fixtures_that_have_held_the_family_come_first_and_none_is_left_out(shop: Shop) -> None:
    zeta, arbor = (
        resources.register_fixture(name=name, by=shop.lead, at=NOON) for name in ("Zeta", "Arbor")
    )
    told = [(one.label, one.group) for one in choices.fixtures(shop.family)]
    assert told == [("Arbor", ""), ("Plug A", ""), ("Zeta", "")]
    make_job(shop, state=State.SET_UP, fixture=zeta)
    have_held = f"Have held {shop.family.name}"
    assert [(one.key, one.group) for one in choices.fixtures(shop.family)] == [
        (zeta.pk, have_held),
        (arbor.pk, "Others"),
        (shop.fixture.pk, "Others"),
    ]
    resources.retire(resource=zeta, by=shop.lead, at=NOON, why="Worn")
    assert [one.group for one in choices.fixtures(shop.family)] == ["", ""]
