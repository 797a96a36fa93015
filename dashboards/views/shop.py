"""The shop's own page, and its settings with who changed them, when and why."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from dashboards.forms.columns import in_words
from dashboards.forms.settings import LABELS, SettingsForm
from dashboards.refusals import saved
from dashboards.views.ground import page, sent, shop_of, show
from qc.actor import Actor
from qc.errors import ChangedMeanwhile, ShopError
from qc.lookups.charts.rule_sets import rule_sets
from qc.lookups.pages.shop import shop_counts
from qc.lookups.record.carry_through import own_share
from qc.lookups.shop.policy import (
    Choice,
    policy_history,
    published_limits,
    shop_policy,
)
from qc.models import Role, ShopPolicy
from qc.operations.policy import change_policy, take_own_share, told_share


@page("shop")
def shop(request: HttpRequest, by: Actor) -> HttpResponse:
    context = {
        "counts": shop_counts(today=timezone.localdate()),
        "policy": shop_of(request),
        "is_lead": by.may(Role.LEAD),
    }
    return show(request, "dashboards/shop/index.html", context)


@dataclass(frozen=True)
class ChoiceLine:
    """A choice that changed, as the page words it; lengths are still in mm."""

    label: str
    before: Any
    after: Any
    is_length: bool


@page("shop")
def settings(request: HttpRequest, by: Actor) -> HttpResponse:
    own = own_share()
    context = {
        "parts": SettingsForm.read(shop_of(request), by.person.unit),
        "history": [(one, list(_lines(one.choices))) for one in policy_history()],
        "published": published_limits(),
        "patterns": rule_sets(shop_of(request), now=timezone.now()),
        "own": own,
        "own_told": "" if own is None else told_share(own),
        "policy": shop_of(request),
        "is_lead": by.may(Role.LEAD),
    }
    return show(request, "dashboards/shop/settings.html", context)


@require_POST
@page("shop", role=Role.LEAD, to="change the shop's limits")
def use_own_share(request: HttpRequest, by: Actor) -> HttpResponse:
    """Put what the shop's clocking tests say of the carry-through in force."""
    try:
        take_own_share(by=by, at=timezone.now(), seen=request.POST.get("seen", ""))
    except ShopError as refusal:
        messages.error(request, f"Nothing was changed. {refusal}")
    else:
        messages.success(request, "In force for what is indicated from now on.")
    return redirect("dashboards:shop_settings")


@page("shop", role=Role.LEAD, to="change the shop's limits")
def change_settings(request: HttpRequest, by: Actor) -> HttpResponse:
    form = SettingsForm(sent(request), unit=by.person.unit, row=shop_of(request))

    def save() -> None:
        told, policy = form.cleaned_data, shop_policy()
        change_policy(
            by=by,
            at=timezone.now(),
            why=told["why"],
            seen=told["version"] or 0,
            **form.changes(policy),
        )

    if saved(form, save):
        messages.success(request, "In force from now on. Jobs that are open keep their limits.")
        return redirect("dashboards:shop_settings")
    if isinstance(getattr(form, "refusal", None), ChangedMeanwhile):
        form.look_again(shop_policy())
    context = {"title": "Change the shop's settings", "back": "dashboards:shop_settings"}
    return show(request, "dashboards/shop/columns_form.html", context, form=form)


def _lines(choices: Sequence[Choice]) -> Iterator[ChoiceLine]:
    for one in choices:
        is_length = one.name.endswith("_mm")
        was, now = (
            value if is_length else in_words(ShopPolicy, one.name, value)
            for value in (one.before, one.after)
        )
        yield ChoiceLine(LABELS[one.name], was, now, is_length)
