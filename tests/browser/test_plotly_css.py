"""The committed plotly.css is what the committed plotly.js would write itself."""

from __future__ import annotations

import hashlib
import re

import pytest

from tests.browser.plotly_rules import RULES, SCRIPT, VENDOR, rules_written_by_plotly


@pytest.mark.browser
def test_the_rules_are_those_the_script_would_write(on_page):
    written = on_page(rules_written_by_plotly)
    assert written.count("\n") > 50
    assert RULES.read_text() == written


def test_the_script_is_the_one_on_record():
    record = (VENDOR / "README.md").read_text()
    version, digest = re.search(
        r"plotly-basic\.min\.js \|.*\| ([\d.]+) \| (\w{64}) \|", record
    ).groups()
    assert hashlib.sha256(SCRIPT.read_bytes()).hexdigest() == digest
    assert f"v{version}\n" in SCRIPT.read_text()[:200]
