"""One job from sign-in to release in Chromium, by keyboard alone, to the numbers worked by hand.

Readings are typed as a gauge types them: the value, then Enter. Once at the width of a phone, once
where no script runs.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from playwright.sync_api import Page

from qc.models import Job, JobResult, State
from tests.browsing import Browsing
from tests.hand_worked import ACHIEVED, FOUND, PASSES, TOUCH_OFF, assert_hand_worked
from tests.make import PASSWORD, Shop, make_shop

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

MOST_TABS = 120
PHONE = {"width": 390, "height": 844}
RunOnPage = Callable[[Callable[[Page], Any]], Any]


class Bench:
    """A pair of hands at the keyboard of a tablet."""

    def __init__(self, page: Page, address: str) -> None:
        self.page, self.address = page, address

    def open(self, path: str) -> None:
        self.page.goto(f"{self.address}{path}")

    def tab_to(self, selector: str) -> None:
        """Press Tab until the cursor stands there: what Tab does not reach, no keyboard does."""
        assert self.page.locator(selector).count() == 1, f"{selector} on {self.page.url}"
        for _ in range(MOST_TABS):
            if self.page.locator(f"{selector}:focus").count():
                return
            self.page.keyboard.press("Tab")
        raise AssertionError(f"Tab never reaches {selector} on {self.page.url}")

    def type(self, selector: str, text: str) -> None:
        self.tab_to(selector)
        self.page.keyboard.type(text)

    def gauge(self, *values: str) -> None:
        """Value and Enter, as a gauge sends them, wherever the cursor stands."""
        for value in values:
            self.page.keyboard.type(value)
            self.press_enter()

    def press_enter(self) -> None:
        self.page.keyboard.press("Enter")
        self.page.wait_for_load_state()

    def press(self, button: str) -> None:
        """Tab to a button or a link and press it, and wait for the page that follows."""
        self.tab_to(button)
        with self.page.expect_navigation():
            self.page.keyboard.press("Enter")

    def heading(self) -> str:
        return self.page.locator("h1").inner_text()

    def numeral(self, label: str) -> str:
        return self.page.locator(f'.numeral:has(dt:text-is("{label}")) dd').first.inner_text()


SAVE = "main button.main"


def sign_in(bench: Bench, username: str) -> None:
    bench.type("#id_username", username)
    bench.type("#id_password", PASSWORD)
    with bench.page.expect_navigation():
        bench.page.keyboard.press("Enter")


def walk_a_job(bench: Bench, *, walks: Callable[..., None]) -> None:
    """Everything an operator does, from the door to the verdict."""
    bench.open("/jobs/new")
    sign_in(bench, "oskar")
    assert bench.heading() == "Open a job"
    bench.type("#id_family", "Alder")
    bench.type("#id_serial", "K-77")
    bench.press(SAVE)

    assert bench.heading() == "As-found readings"
    walks(bench, FOUND)
    bench.type("#id_gauge", "Micrometer")
    bench.type("#id_solder", "1.5")
    bench.press(SAVE)

    assert bench.heading() == "Plan"
    bench.press(SAVE)
    assert bench.numeral("Cut") == "0.520 mm"
    assert bench.numeral("Tightest after") == "0.490 mm"

    bench.press('main a.button:has-text("Go to: Set-up")')
    bench.type("#id_fixture", "Plug")
    bench.type("#id_clocking", "0")
    bench.type("#id_edge", "Insert")
    bench.press(SAVE)

    for kind in ("snug", "tightened"):
        assert bench.heading() == "Indicating", kind
        walks(bench, ("0", "0.002", "0.004", "0.002", "0", "-0.002", "-0.004", "-0.002"))
        bench.press('main button:has-text("Save the dial readings")')

    assert bench.heading() == "Touch-off"
    bench.type("#id_dial", TOUCH_OFF)
    bench.press(SAVE)

    assert bench.numeral("Turn the dial to") == "2.235 mm"
    for dial in PASSES:
        assert bench.heading() == "Passes"
        bench.type("#id_dial", dial)
        bench.press('main button:has-text("Record the pass")')
    bench.press('main a.button:has-text("Go to: Achieved readings")')

    assert bench.heading() == "Achieved readings"
    walks(bench, ACHIEVED)
    bench.type("#id_solder", "1.0")
    bench.press(SAVE)

    assert bench.heading() == "Verdict"
    assert bench.page.locator(".verdict-word").inner_text().strip() == "accept"
    assert bench.numeral("Height achieved") == "0.500 mm"
    assert bench.page.locator('button:has-text("Release")').count() == 0


def release(bench: Bench, number: int) -> None:
    """The lead signs in on the same tablet and releases the job."""
    bench.press('button:has-text("Sign out")')
    sign_in(bench, "lena")
    bench.open(f"/jobs/{number}/verdict")
    bench.press('main button:text-is("Release")')
    assert "released" in bench.page.locator(".job-head .badge").inner_text()


def with_script(bench: Bench, values: tuple[str, ...]) -> None:
    """The cursor stands in the first box; each Enter moves it on, and none sends the form."""
    address = bench.page.url
    bench.gauge(*values)
    boxes = bench.page.locator("input.reading")
    assert [boxes.nth(n).input_value() for n in range(len(values))] == list(values)
    assert not bench.page.locator("input.reading:focus").count()
    assert bench.page.url == address


def without_script(bench: Bench, values: tuple[str, ...]) -> None:
    """Each Enter brings the form back with everything typed and the cursor in the next box.

    The cursor moves a moment after the page is there; a gauge comes later than that.
    """
    for value in values:
        bench.page.wait_for_selector("input.reading:focus")
        bench.page.keyboard.type(value)
        with bench.page.expect_navigation():
            bench.page.keyboard.press("Enter")
    boxes = bench.page.locator("input.reading")
    assert [boxes.nth(n).input_value() for n in range(len(values))] == list(values)
    bench.page.wait_for_selector("form.bench button:focus")


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def phone(chromium: Browsing) -> Iterator[RunOnPage]:
    with chromium.fresh(viewport=PHONE) as run:
        yield run


@pytest.fixture
def scriptless(chromium: Browsing) -> Iterator[RunOnPage]:
    with chromium.fresh(java_script_enabled=False) as run:
        yield run


def nothing_sticks_out(page: Page) -> None:
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]


def test_one_job_on_a_phone_by_keyboard(phone: RunOnPage, live_server: Any, shop: Shop) -> None:
    phone(lambda page: walk_a_job(Bench(page, live_server.url), walks=with_script))
    job = Job.objects.get()
    assert_hand_worked(JobResult.objects.get(round__job=job))
    phone(lambda page: page.wait_for_selector("[data-done=drawn]", state="attached"))
    phone(nothing_sticks_out)
    phone(lambda page: release(Bench(page, live_server.url), job.pk))
    job.refresh_from_db()
    assert job.state == State.RELEASED
    phone(nothing_sticks_out)


def test_one_job_without_script(scriptless: RunOnPage, live_server: Any, shop: Shop) -> None:
    scriptless(lambda page: walk_a_job(Bench(page, live_server.url), walks=without_script))
    job = Job.objects.get()
    assert_hand_worked(JobResult.objects.get(round__job=job))
    scriptless(lambda page: release(Bench(page, live_server.url), job.pk))
    job.refresh_from_db()
    assert job.state == State.RELEASED
