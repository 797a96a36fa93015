"""A page as a person without script uses it: read its form, type into it, send what a browser
would send."""

from __future__ import annotations

from collections.abc import Callable
from html.parser import HTMLParser
from typing import Any

from django.test import Client

SignedIn = Callable[[str], Client]


class _Forms(HTMLParser):
    """Every form's method and what it would send before anyone touched it."""

    def __init__(self) -> None:
        super().__init__()
        self.forms: list[tuple[str, dict[str, str]]] = []
        self._select = self._text = ""
        self._options: list[tuple[str, bool]] = []

    @property
    def _now(self) -> dict[str, str]:
        return self.forms[-1][1]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        told = dict(attrs)
        name, value = told.get("name") or "", told.get("value") or ""
        if tag == "form":
            self.forms.append((told.get("method") or "get", {}))
        elif tag == "input" and name and self.forms:
            if told.get("type") not in ("checkbox", "radio"):
                self._now[name] = value
            elif "checked" in told:
                self._now[name] = value or "on"
        elif tag == "select":
            self._select, self._options = name, []
        elif tag == "option" and self._select:
            self._options.append((value, "selected" in told))
        elif tag == "textarea":
            self._text = name
            self._now[name] = ""

    def handle_endtag(self, tag: str) -> None:
        if tag == "select" and self._options:
            chosen = [value for value, selected in self._options if selected]
            self._now[self._select] = (chosen or [self._options[0][0]])[0]
            self._select = ""
        elif tag == "textarea":
            self._text = ""

    def handle_data(self, data: str) -> None:
        if self._text:
            self._now[self._text] += data.removeprefix("\n")


def form_on(text: str, holding: str) -> dict[str, str]:
    """What the page's form would send; the one that has a field called `holding`."""
    parsed = _Forms()
    parsed.feed(text)
    found = [sent for method, sent in parsed.forms if method == "post" and holding in sent]
    assert len(found) == 1, f"{len(found)} forms hold {holding}"
    return found[0]


def send(client: Client, address: str, typed: dict[str, Any], *, holding: str = "version") -> Any:
    """Open the page, type into its form, and send it. None takes a field out: an unticked box."""
    page = client.get(address)
    assert page.status_code == 200, page.status_code
    sent = form_on(page.text, holding)
    return client.post(address, _with(sent, typed))


def send_again(
    client: Client, page: Any, typed: dict[str, Any], *, holding: str = "version"
) -> Any:
    """Type into the form that came back, and send it to where it came from."""
    return client.post(page.request["PATH_INFO"], _with(form_on(page.text, holding), typed))


def _with(sent: dict[str, str], typed: dict[str, Any]) -> dict[str, str]:
    changed = {**sent, **typed}
    return {name: value for name, value in changed.items() if value is not None}


def filled(client: Client, address: str, **changes: Any) -> dict[str, Any]:
    """What a browser would send: the form as the page filled it, with some changes."""
    return {**as_shown(client.get(address).context["form"]), **changes}


def as_shown(form: Any) -> dict[str, Any]:
    values = {name: form[name].value() for name in form.fields}
    return {
        name: value for name, value in values.items() if value is not None and value is not False
    }
