"""A lead takes a designed chart: a new policy row, and the journal says what changed."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from qc.errors import BadInput, NotAllowed
from qc.models import ChartsBy, JournalEntry, ShopPolicy
from qc.numerics.run_length import ChartDesign, cusum_design, pair_design
from qc.operations.designing import take_design
from tests.make import NOON, Shop, make_shop

WHY = "Find a worn edge sooner"


@pytest.fixture
def shop(db: None) -> Shop:
    return make_shop()


def pair() -> ChartDesign:
    return pair_design(300.0, 1.0, weight=0.1)


def test_a_pair_becomes_the_shops_weight_and_rate(shop: Shop) -> None:
    before = ShopPolicy.objects.count()
    policy = take_design(design=pair_design(150.0, 1.0, weight=0.1), by=shop.lead, at=NOON, why=WHY)
    assert (policy.charts_by, policy.ewma_weight) == (ChartsBy.AVERAGE, Decimal("0.10"))
    assert policy.false_flags_per_season == Decimal("2.00")  # 300 jobs a season
    assert ShopPolicy.objects.count() == before + 1
    entry = JournalEntry.objects.latest("pk")
    assert (entry.action, entry.why) == ("policy.changed", WHY)
    assert entry.after["ewma_weight"] == "0.10"


def test_a_cusum_becomes_the_shops_allowance_and_head_start(shop: Shop) -> None:
    design = cusum_design(300.0, 1.0, k=0.75, has_head_start=False)
    policy = take_design(design=design, by=shop.lead, at=NOON, why=WHY)
    assert (policy.charts_by, policy.cusum_k) == (ChartsBy.SUMS, Decimal("0.750"))
    assert not policy.cusum_has_head_start
    headed = cusum_design(300.0, 1.0, k=0.75, has_head_start=True)
    assert take_design(design=headed, by=shop.lead, at=NOON, why=WHY).cusum_has_head_start


def test_a_design_the_shop_cannot_chart_by_changes_nothing(shop: Shop) -> None:
    before = ShopPolicy.objects.count()
    for design in (replace(pair(), chart="ewma"), replace(pair(), arl0=1e6)):
        with pytest.raises(BadInput):
            take_design(design=design, by=shop.lead, at=NOON, why=WHY)
    assert ShopPolicy.objects.count() == before


def test_only_a_lead_takes_one(shop: Shop) -> None:
    before = ShopPolicy.objects.count()
    with pytest.raises(NotAllowed):
        take_design(design=pair(), by=shop.operator, at=NOON, why=WHY)
    assert ShopPolicy.objects.count() == before
