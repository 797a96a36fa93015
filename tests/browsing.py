"""Chromium for the tests, in a thread of its own.

Playwright runs an event loop in the thread that starts it, and Django refuses database work in
such a thread. So the browser gets one, and the test keeps the other.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from typing import Any

from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from deploy.services import CHROMIUM, chromium

SWITCHES = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
]


def chromium_path() -> str | None:
    return os.environ.get(CHROMIUM) or chromium()


class Browsing:
    """A running browser and the thread that alone may touch it."""

    OnPage = Callable[[Callable[[Page], Any]], Any]

    def __init__(self, thread: ThreadPoolExecutor, browser: Browser) -> None:
        self.thread = thread
        self.browser = browser

    @classmethod
    @contextmanager
    def started(cls) -> Iterator[Browsing]:
        with ThreadPoolExecutor(max_workers=1, thread_name_prefix="browser") as thread:
            playwright = thread.submit(sync_playwright().start).result()
            try:
                browser = thread.submit(
                    playwright.chromium.launch, executable_path=chromium_path(), args=SWITCHES
                ).result()
                yield cls(thread, browser)
                thread.submit(browser.close).result()
            finally:
                thread.submit(playwright.stop).result()

    @contextmanager
    def fresh(self, **options: Any) -> Iterator[OnPage]:
        """A page with no cookies; `options` are Playwright's, such as viewport and locale."""
        troubles: list[str] = []
        context, page = self.thread.submit(self._open, troubles, options).result()
        try:
            yield lambda work: self.thread.submit(work, page).result()
        finally:
            self.thread.submit(context.close).result()
        assert not troubles, troubles

    def _open(self, troubles: list[str], options: dict[str, Any]) -> tuple[BrowserContext, Page]:
        context = self.browser.new_context(**options)
        page = context.new_page()
        page.on("pageerror", lambda error: troubles.append(f"script error: {error}"))
        page.on(
            "console",
            lambda line: (
                "Content Security Policy" in line.text and troubles.append(f"policy: {line.text}")
            ),
        )
        return context, page
