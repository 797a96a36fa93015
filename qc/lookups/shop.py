"""The shop as its pages name it: its policy in force, even before anyone chose one."""

from __future__ import annotations

from qc.models import ShopPolicy


def shop_policy() -> ShopPolicy:
    """The policy in force; the defaults, unsaved, in a shop that has none yet."""
    return ShopPolicy.objects.order_by("-pk").first() or ShopPolicy()
