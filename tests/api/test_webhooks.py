"""What a webhook is sent has the form that the API's description tells."""

from __future__ import annotations

import copy

import pytest
from jsonschema import Draft202012Validator

from api.webhooks import BODY
from qc.lookups.flags.told import flag_line
from qc.lookups.flags.visible import anybody
from qc.lookups.flags.webhook_body import trial_body, webhook_body
from qc.models import DriftChannel, Flag, Happening, State
from tests.flagged import make_flag
from tests.make import NOON, make_job, make_shop


@pytest.mark.django_db
def test_a_body_of_each_channel_has_the_form_it_tells() -> None:
    form = Draft202012Validator(BODY)
    form.validate(trial_body(at=NOON))
    shop = make_shop()
    round_ = make_job(shop, state=State.MEASURED).rounds.get()
    gauge, hands = shop.gauge.pk, shop.operator.person.pk
    for channel in (DriftChannel.HEIGHT, DriftChannel.SPREAD):
        tied = [("gauge", gauge, 0.6), ("person", hands, 0.3)]
        make_flag(round_, kind="gauge", key=gauge, channel=channel, size=0.02, suspects=tied)
    make_flag(round_, kind="fixture", key=shop.fixture.pk)
    for flag in Flag.objects.all():
        line = flag_line(flag, anybody())
        body = webhook_body(Happening.RAISED, line, at=NOON)
        form.validate(body)
        # A wrong form would be seen.
        for name in body["data"]:
            short = copy.deepcopy(body)
            del short["data"][name]
            assert not form.is_valid(short), name
        # What it tells beyond that would be no promise.
        told = BODY["properties"]["data"]["oneOf"][0]["properties"]
        assert set(body["data"]) == set(told)
