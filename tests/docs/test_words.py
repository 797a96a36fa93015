"""What the documents name exists: commands, folders, pictures, addresses and options."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.urls import Resolver404, resolve

from deploy import options

PROJECT = Path(__file__).resolve().parents[2]
DOCUMENTS = ["README.md", "DEVELOPERS.md", "deploy/container/UPGRADE.md"]
PATHS = re.compile(r"`((?:qc|api|dashboards|tests|deploy)/[\w./-]*)`")
LINKS = re.compile(r"\]\(((?!http)[^)#]+)\)")
OPTIONS = re.compile(r"^\| `(--[a-z]+)", re.MULTILINE)


def text_of(document: str) -> str:
    return (PROJECT / document).read_text(encoding="utf-8")


@pytest.mark.parametrize("document", DOCUMENTS)
def test_every_path_and_link_is_there(document: str) -> None:
    text = text_of(document)
    named = set(PATHS.findall(text))
    linked = {str((PROJECT / document).parent / link) for link in LINKS.findall(text)}
    missing = [one for one in named if not (PROJECT / one).exists()]
    missing += [one for one in linked if not Path(one).exists()]
    assert not missing


def test_the_readme_tells_every_option_of_up() -> None:
    told = set(OPTIONS.findall(text_of("README.md")))
    spoken = {"--empty", "--data", "--port", "--host", "--lan"}
    assert told == spoken
    for option in spoken - {"--empty", "--lan"}:
        value = {"--port": "8001"}.get(option, "here")
        options.parse([option, value])
    options.parse(["--empty", "--lan"])


def test_the_addresses_of_the_api_in_the_readme_exist() -> None:
    for address in re.findall(r"(/api/v1/[a-z0-9/-]+)", text_of("README.md")):
        try:
            resolve(address.rstrip("/"))
        except Resolver404:
            if address != "/api/v1/":
                raise
    resolve("/api/schema")


def test_the_readme_opens_with_the_job() -> None:
    first = text_of("README.md").split("\n\n")[1]
    assert "squish" in first
    assert "fixture" in first
