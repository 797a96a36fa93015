"""Who is told about flags, for leads: people by e-mail, machines by webhooks, and what was sent."""

from __future__ import annotations

from collections.abc import Callable

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from dashboards.forms.notices import MailForm, RetireWebhookForm, WebhookForm
from dashboards.refusals import saved
from dashboards.telling import journal_lines
from dashboards.views.ground import page, sent, shop_of, show
from qc import access
from qc.actor import Actor
from qc.errors import ChangedMeanwhile, ShopError
from qc.lookups.flags import notices as lookups
from qc.lookups.pages.shop import people
from qc.models import Role, Webhook
from qc.operations import notices, webhooks
from qc.operations.webhooks import TO

ALL = "dashboards:shop_notices"
ONE = "dashboards:shop_webhook"
of_leads = page("shop", role=Role.LEAD, to=TO)


@of_leads
def overview(request: HttpRequest, by: Actor) -> HttpResponse:
    context = {
        "people": [one for one in people() if one.is_active],
        "webhooks": list(lookups.webhooks()),
        "notices": lookups.newest_notices(by),
        "journal": journal_lines(lookups.mail_journal()[: lookups.LISTED]),
        "mail_is_set_up": settings.MAIL_IS_SET_UP,
        "sender": settings.DEFAULT_FROM_EMAIL,
        "site_address": settings.SITE_ADDRESS,
    }
    return show(request, "dashboards/shop/notices.html", context)


@of_leads
def mail(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    person = access.person(key)
    starts = {"email": person.email, "gets_flag_mail": person.gets_flag_mail}
    form = MailForm(sent(request), initial=starts)
    if saved(
        form,
        lambda: webhooks.set_mail(person=person, **form.cleaned_data, by=by, at=timezone.now()),
    ):
        messages.success(request, f"E-mail for {person.name} is changed.")
        return redirect(ALL)
    context = {
        "title": f"E-mail about flags for {person.name}",
        "back": ALL,
        "says": "One message when a flag is raised and one when it ends. A flag about a person "
        "goes to that person and to leads, to nobody else.",
    }
    return show(request, "dashboards/shop/plain_form.html", context, form=form)


@require_POST
@of_leads
def try_mail(request: HttpRequest, by: Actor) -> HttpResponse:
    shop_name = shop_of(request).shop_name
    _told_of_try(request, lambda: webhooks.try_mail(by=by, shop_name=shop_name))
    return redirect(ALL)


@never_cache
@of_leads
def add(request: HttpRequest, by: Actor) -> HttpResponse:
    """The secret is in this one answer and on no page afterwards."""
    form = WebhookForm(sent(request), unit=by.person.unit)
    made: list[Webhook] = []

    def save() -> None:
        made.append(webhooks.add_webhook(**form.columns(), by=by, at=timezone.now()))

    if saved(form, save):
        return show(request, "dashboards/shop/webhook_made.html", {"webhook": made[0]})
    context = {"title": "Set up a webhook", "back": ALL}
    return show(request, "dashboards/shop/columns_form.html", context, form=form)


@of_leads
def one(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    webhook = access.webhook(key)
    context = {
        "webhook": webhook,
        "notices": lookups.newest_notices(by, webhook=webhook),
        "journal": journal_lines(lookups.webhook_journal(webhook)),
    }
    return show(request, "dashboards/shop/webhook.html", context)


@of_leads
def change(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    webhook = access.webhook(key)
    form = WebhookForm(sent(request), unit=by.person.unit, row=webhook)

    def save() -> None:
        if changes := form.changes(webhook):
            seen = form.cleaned_data["version"]
            webhooks.change_webhook(
                webhook=webhook, by=by, at=timezone.now(), expected_version=seen, **changes
            )

    if saved(form, save):
        messages.success(request, "The webhook is changed.")
        return redirect(ONE, key)
    if isinstance(getattr(form, "refusal", None), ChangedMeanwhile):
        form.look_again(access.webhook(key))
    context = {"title": f"Change {webhook.name}", "back": ONE, "key": key}
    return show(request, "dashboards/shop/columns_form.html", context, form=form)


@of_leads
def retire(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    webhook = access.webhook(key)
    form = RetireWebhookForm(sent(request))
    if saved(
        form,
        lambda: webhooks.retire_webhook(
            webhook=webhook, by=by, at=timezone.now(), why=form.cleaned_data["why"]
        ),
    ):
        messages.success(request, f"{webhook.name} is told nothing from now on.")
        return redirect(ONE, key)
    says = "It is told nothing from then on, and its secret is used no more."
    context = {"name": webhook.name, "back": ONE, "key": key, "says": says}
    return show(request, "dashboards/shop/retire.html", context, form=form)


@require_POST
@of_leads
def try_webhook(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    webhook = access.webhook(key)
    _told_of_try(request, lambda: webhooks.try_webhook(webhook=webhook, by=by, at=timezone.now()))
    return redirect(ONE, key)


def _told_of_try(request: HttpRequest, attempt: Callable[[], str]) -> None:
    try:
        messages.info(request, f"The test was taken. {attempt()}")
    except ShopError as refusal:
        messages.error(request, f"The test was not taken. {refusal}")


@require_POST
@of_leads
def send_again(request: HttpRequest, by: Actor, key: int) -> HttpResponse:
    notice = access.notice(key)
    try:
        notices.send_again(notice=notice, by=by, at=timezone.now())
        messages.info(request, "It is tried again now.")
    except ShopError as refusal:
        messages.error(request, str(refusal))
    return redirect(ALL) if notice.webhook_id is None else redirect(ONE, notice.webhook_id)
