"""Takes the pictures the README shows, from a running demo shop, by hand:

    deploy/up --data /tmp/pictures --port 8100
    .venv/bin/python -m tests.docs.take_pictures http://127.0.0.1:8100 ines PASSWORD

They go into deploy/pictures/: each page at desktop width, the fixture's at phone width too.
"""

from __future__ import annotations

import sys
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from tests.browsing import SWITCHES, chromium_path

FOLDER = Path(__file__).resolve().parents[2] / "deploy" / "pictures"
ON_A_PHONE = {"fixture"}
WIDTHS = {"desktop": (1280, 1400), "phone": (390, 844)}


def sign_in(page: Page, address: str, username: str, password: str) -> None:
    page.goto(f"{address}/sign-in")
    page.fill("[name=username]", username)
    page.fill("[name=password]", password)
    page.click("main button[type=submit]")
    page.wait_for_selector("h1")


def flagged_fixture(page: Page, address: str) -> str:
    """The address of the fixture that the list of fixtures calls flagged."""
    page.goto(f"{address}/fixtures")
    row = page.locator("main tr", has_text="flagged").first
    link = row.locator('a[href^="/fixtures/"]').get_attribute("href")
    assert link is not None, "the demo shop has a flagged fixture"
    return link


def planned_job(page: Page, address: str) -> str:
    page.goto(f"{address}/jobs?state=planned")
    link = page.locator('main a[href^="/jobs/"]:not([href$="new"])').first.get_attribute("href")
    assert link is not None, "the demo shop has a planned job"
    return f"{link}/plan"


def take(page: Page, name: str, address: str) -> None:
    page.goto(address)
    for drawing in page.locator("[data-figure-url]").all():
        drawing.scroll_into_view_if_needed()
    # Not a function to wait for: the pages' content policy lets no text become script.
    page.wait_for_selector("[data-figure-url]:not([data-done])", state="detached")
    page.evaluate("() => window.scrollTo(0, 0)")
    page.screenshot(path=FOLDER / f"{name}.png")
    print(name)


def main(address: str, username: str, password: str) -> None:
    FOLDER.mkdir(exist_ok=True)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium_path(), args=SWITCHES)
        for width, (across, down) in WIDTHS.items():
            page = browser.new_page(viewport={"width": across, "height": down})
            sign_in(page, address, username, password)
            pages = {
                "today": "/",
                "fixture": flagged_fixture(page, address),
                "plan": planned_job(page, address),
                "accuracy": "/accuracy",
            }
            for name, path in pages.items():
                if width == "phone" and name not in ON_A_PHONE:
                    continue
                take(page, f"{name}-{width}", f"{address}{path}")
        browser.close()


if __name__ == "__main__":
    main(*sys.argv[1:])
