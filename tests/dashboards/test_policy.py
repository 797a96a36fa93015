"""No template, picture or script of ours needs what the Content-Security-Policy forbids."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import dashboards

HERE = Path(dashboards.__file__).parent
MARKUP = sorted([*HERE.glob("templates/**/*.html"), *HERE.glob("static/**/*.svg")])
SCRIPTS = sorted(HERE.glob("static/dashboards/js/*.js"))

FORBIDDEN = {
    "a style attribute": r"<[^>]*\sstyle\s*=",
    "a style element": r"<style\b",
    "an inline script": r"<script\b(?![^>]*\bsrc=)",
    "an event attribute": r"<[^>]*\son\w+\s*=",
    "a script address": r"javascript:",
    "another host": r"(?:src|href)=[\"'](?:https?:)?//",
}
FORBIDDEN_IN_SCRIPTS = {
    "markup from text": r"\.(?:inner|outer)HTML\s*=|insertAdjacentHTML|document\.write",
    "code from text": r"\beval\(|new Function\(",
    "a style attribute": r"setAttribute\(\s*[\"']style",
}


def found(patterns: dict[str, str], text: str) -> list[str]:
    return [name for name, pattern in patterns.items() if re.search(pattern, text, re.I)]


def without_comments(text: str) -> str:
    return re.sub(r"\{% comment %\}.*?\{% endcomment %\}", "", text, flags=re.S)


@pytest.mark.parametrize("path", MARKUP, ids=lambda path: path.name)
def test_markup_keeps_to_the_policy(path):
    assert found(FORBIDDEN, without_comments(path.read_text())) == []


@pytest.mark.parametrize("path", SCRIPTS, ids=lambda path: path.name)
def test_scripts_keep_to_the_policy(path):
    assert found(FORBIDDEN_IN_SCRIPTS, path.read_text()) == []


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("a style attribute", '<p class="x" style="color:red">'),
        ("a style element", "<style>p{}</style>"),
        ("an inline script", "<script defer>go()</script>"),
        ("an event attribute", '<button onclick="go()">'),
        ("a script address", '<a href="javascript:go()">'),
        ("another host", '<script src="//elsewhere.example/x.js"></script>'),
    ],
)
def test_the_search_finds_what_it_looks_for(name, text):
    assert name in found(FORBIDDEN, text)


def test_the_search_passes_what_the_pages_use():
    text = '<script src="/static/a.js" defer></script><label for="on">one = two</label>'
    assert found(FORBIDDEN, text) == []
