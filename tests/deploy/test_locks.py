"""What the tests run on is what the service runs on."""

from __future__ import annotations

import re

import pytest

from deploy.bootstrap import PROJECT

PIN = re.compile(r"^([A-Za-z0-9._-]+(?:\[[a-z,]+\])?)==([^\s;]+)(.*?)\\?$", re.MULTILINE)


def pins(lock: str) -> set[tuple[str, str, str]]:
    text = (PROJECT / "deploy" / lock).read_text(encoding="utf-8")
    return {(name, version, marker.strip()) for name, version, marker in PIN.findall(text)}


def test_every_package_of_the_service_is_tested_at_the_version_it_ships():
    assert pins("requirements.txt")
    assert pins("requirements.txt") - pins("requirements-dev.txt") == set()


@pytest.mark.parametrize("lock", ["requirements.txt", "requirements-dev.txt"])
def test_every_pin_has_a_hash_and_no_lock_names_an_index(lock):
    text = (PROJECT / "deploy" / lock).read_text(encoding="utf-8")
    blocks = re.split(r"\n(?=\S)", text.strip())
    assert all("--hash=sha256:" in block for block in blocks)
    assert "index-url" not in text
