"""Who is told about flags: a webhook, and whether a person gets e-mail."""

from __future__ import annotations

from django import forms

from dashboards.forms.bench import why_field
from dashboards.forms.columns import Column, ColumnsForm, Group
from qc.models import Webhook

ADDRESS = forms.CharField(
    label="Address",
    max_length=500,
    help_text="Such as https://lamp.example/flags. The shop's own network is fine.",
    widget=forms.TextInput(
        attrs={"inputmode": "url", "autocomplete": "off", "autocapitalize": "off"}
    ),
)


class WebhookForm(ColumnsForm):
    model = Webhook
    groups = (
        Group(
            "",
            "",
            (
                Column(
                    "name", "Name", "As this shop calls it, such as: lamp over the north bench."
                ),
                Column("url", "Address", field=ADDRESS),
                Column("is_active", "In use", "Without this it is told nothing."),
            ),
        ),
        Group(
            "What it is told",
            "Flags about lathes, edges, gauges and fixtures. Never one about a person.",
            (
                Column("tells_raised", "A flag is raised"),
                Column("tells_ended", "A flag ends", "Closed, cleared or withdrawn."),
                Column(
                    "tells_decided", "A lead decides", "To do as recommended, or to put it off."
                ),
            ),
        ),
    )


class RetireWebhookForm(forms.Form):
    why = why_field("Why is it retired?")


class MailForm(forms.Form):
    email = forms.CharField(
        label="E-mail",
        max_length=254,
        required=False,
        widget=forms.TextInput(attrs={"inputmode": "email", "autocomplete": "off"}),
    )
    gets_flag_mail = forms.BooleanField(label="Send e-mail about flags", required=False)
