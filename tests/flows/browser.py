"""A headless Chromium, and a watch over everything its pages complain of."""

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, Response, sync_playwright

ARGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run"]
# A camera that shows a moving test picture, and is allowed without asking.
CAMERA = ["--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream"]
PLACES = ("chromium", "chromium-browser", "google-chrome")
PHONE = {"viewport": {"width": 390, "height": 800}, "has_touch": True, "is_mobile": True, "device_scale_factor": 2}
DESK = {"viewport": {"width": 1280, "height": 1024}}
TABLET = {"viewport": {"width": 1024, "height": 768}, "has_touch": True}

# A form that came back with its errors is a 422, which the browser writes down as a resource that failed.
WRONG_FORM = "the server responded with a status of 422"
OFFLINE = "net::ERR_INTERNET_DISCONNECTED"


def chromium_path() -> str:
    """Where Chromium is; without one the test is skipped, or fails where a browser was promised.

    The one skip of this suite: somebody without a browser shall be able to run all other tests, while .ci/run, which
    installs one, sets EVENSEAM_TEST_BROWSER=required so that the skip cannot hide there.
    """
    found = next((path for name in PLACES if (path := shutil.which(name))), "")
    if not found and Path("/usr/bin/chromium").exists():
        found = "/usr/bin/chromium"
    if not found:
        if os.environ.get("EVENSEAM_TEST_BROWSER") == "required":
            pytest.fail("EVENSEAM_TEST_BROWSER=required, but there is no Chromium on PATH or at /usr/bin/chromium")
        pytest.skip("no Chromium on PATH or at /usr/bin/chromium: the pages were not walked in a browser")
    return found


@contextmanager
def chromium(*, with_page_cache: bool = False, with_camera: bool = False) -> Iterator[Browser]:
    """A browser for one test. `with_page_cache` leaves on the cache that Back uses, as in everybody's own browser."""
    path = chromium_path()
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=path,
            args=[*ARGS, *(CAMERA if with_camera else [])],
            ignore_default_args=["--disable-back-forward-cache"] if with_page_cache else None,
        )
        try:
            yield browser
        finally:
            browser.close()


@dataclass
class Watch:
    """What went wrong on any page of any context it was given."""

    faults: list[str] = field(default_factory=list)
    ignored: list[str] = field(default_factory=lambda: [WRONG_FORM])

    def context(self, browser: Browser, base_url: str, **how: Any) -> BrowserContext:
        context = browser.new_context(base_url=base_url, locale="en-GB", **how)
        context.set_default_timeout(15_000)
        context.on("page", self._look_at)
        return context

    def _look_at(self, page: Page) -> None:
        page.on("console", self._heard)
        page.on("pageerror", lambda error: self.faults.append(f"{page.url}: {error}"))
        page.on("response", self._answered)

    def _heard(self, message: ConsoleMessage) -> None:
        if message.type in {"error", "warning"} and not any(words in message.text for words in self.ignored):
            self.faults.append(f"{message.location.get('url', '')}: {message.text}")

    def _answered(self, response: Response) -> None:
        if response.status >= 500:
            self.faults.append(f"{response.url}: {response.status}")
