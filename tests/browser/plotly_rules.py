"""The style rules that plotly.js writes into a page, read back from Chromium.

Run as `python -m tests.browser.plotly_rules` to print them; vendor/README.md says when.
"""

from __future__ import annotations

from pathlib import Path

from playwright.sync_api import Page

from tests.browsing import Browsing

VENDOR = Path(__file__).resolve().parents[2] / "dashboards" / "static" / "dashboards" / "vendor"
SCRIPT = VENDOR / "plotly-basic.min.js"
RULES = VENDOR / "plotly.css"

READ_RULES = """
() => Array.from(
  document.getElementById("plotly.js-style-global").sheet.cssRules,
  rule => rule.cssText,
).join("\\n") + "\\n"
"""


def rules_written_by_plotly(page: Page) -> str:
    """One rule a line, in the order in which the script adds them to an empty page."""
    page.goto("about:blank")
    page.add_script_tag(path=SCRIPT)
    return page.evaluate(READ_RULES)


if __name__ == "__main__":
    with Browsing.started() as browsing, browsing.fresh() as on_page:
        print(on_page(rules_written_by_plotly), end="")
