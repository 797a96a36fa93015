"""Pages of a job at the width of a phone, once readings are on record: none scrolls sideways, and
what is typed stands near what it is typed from."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

import pytest
from playwright.sync_api import Page

from qc.models import Job, Kind, State
from qc.operations import lathe_work
from qc.operations.reading_rows import ReadingIn
from qc.units import mm
from tests.browser.test_job_journey import PHONE, Bench, RunOnPage, sign_in
from tests.browsing import Browsing
from tests.make import NOON, Shop, make_job, make_shop

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

WITH_READINGS = {
    State.PLANNED: ("plan",),
    State.SET_UP: ("indicate",),
    State.MEASURED: ("achieved", ""),
}


@pytest.fixture
def phone(chromium: Browsing) -> Iterator[RunOnPage]:
    with chromium.fresh(viewport=PHONE) as run:
        yield run


def indicated_job(shop: Shop) -> Job:
    job = make_job(shop, state=State.SET_UP, serial="C-2")
    dial = [
        ReadingIn(length=mm(value), position_deg=Decimal(at), field="dial")
        for at, value in ((0, "0.010"), (90, "0.003"), (180, "-0.004"), (270, "0.003"))
    ]
    for kind in (Kind.INDICATED_SNUG, Kind.INDICATED_TIGHT):
        lathe_work.record_indicating(
            job=job, kind=kind, readings=dial, by=shop.operator, at=NOON, gauge=shop.gauge
        )
    lathe_work.record_touch_off(job=job, dial=mm("2.00"), by=shop.operator, at=NOON)
    return job


def test_no_page_with_readings_scrolls_sideways(
    phone: RunOnPage,
    live_server: Any,
) -> None:
    shop = make_shop()
    jobs = {
        State.PLANNED: make_job(shop, state=State.PLANNED, serial="C-1"),
        State.SET_UP: indicated_job(shop),
        State.MEASURED: make_job(shop, state=State.MEASURED, serial="C-3"),
    }

    def widths(page: Page) -> dict[str, int]:
        bench = Bench(page, live_server.url)
        bench.open("/")
        sign_in(bench, "oskar")
        found = {}
        for state, pages in WITH_READINGS.items():
            for name in pages:
                bench.open(f"/jobs/{jobs[state].pk}/{name}".rstrip("/"))
                for folded in page.locator("details > summary").all():
                    if folded.locator("xpath=..").get_attribute("open") is None:
                        folded.click()
                assert page.locator("table").count(), name
                found[name] = page.evaluate("document.documentElement.scrollWidth")
                if name == "plan":
                    row = page.locator("table.in-line tbody tr").first
                    for label in ("Before", "After", "Change"):
                        cell = row.locator(f'td[data-label="{label}"]').bounding_box()
                        assert cell is not None, label
                        assert cell["x"] + cell["width"] <= PHONE["width"], label
        bench.open(f"/jobs/{jobs[State.SET_UP].pk}/passes")
        aim, box = (
            page.locator(".numeral dd").bounding_box(),
            page.locator("#id_dial").bounding_box(),
        )
        assert aim is not None
        assert box is not None
        assert box["y"] + box["height"] - aim["y"] < PHONE["height"] / 2
        return found

    found = phone(widths)
    assert {name: wide for name, wide in found.items() if wide > PHONE["width"]} == {}
