"""A real browser on a live server, and an eye on what it complains about."""

from __future__ import annotations

import shutil
import signal
from collections.abc import Iterator
from dataclasses import dataclass, field

import pytest
from _pytest.runner import runtestprotocol
from django.utils import timezone

from facility.people.models import Person
from tests import builders

sync_api = pytest.importorskip("playwright.sync_api", reason="needs the package playwright")

ARGUMENTS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update", "--disable-dev-shm-usage",
]  # fmt: skip


@dataclass
class Visitors:
    """Opens the program as one person after another, each in a browser of their own."""

    browser: sync_api.Browser
    base: str
    complaints: list[str] = field(default_factory=list)

    def stranger(self, **options: str) -> sync_api.Page:
        page = self.browser.new_context(base_url=self.base, **options).new_page()
        page.set_default_timeout(10_000)
        page.on("console", self._hear)
        page.on("pageerror", lambda error: self.complaints.append(f"script: {error}"))
        page.on("response", self._see)
        return page

    def person(self, who: Person, **options: str) -> sync_api.Page:
        page = self.stranger(**options)
        page.goto("/sign-in/")
        page.get_by_label("Sign-in").fill(who.sign_in)
        page.get_by_label("Password").fill(builders.PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        page.wait_for_url("**/")
        return page

    def _hear(self, message: sync_api.ConsoleMessage) -> None:
        """Errors and policy breaches; what failed to load is judged by its answer, below."""
        if message.type == "error" and not message.text.startswith("Failed to load resource"):
            self.complaints.append(f"console: {message.text}")

    def _see(self, response: sync_api.Response) -> None:
        if response.status >= 400:
            self.complaints.append(f"{response.status}: {response.request.method} {response.url}")


@pytest.fixture
def ground_today(transactional_db) -> builders.Ground:
    """The views read the clock, so this ground lives today."""
    return builders.found_ground(at=timezone.now())


@pytest.fixture
def visitors(django_db_setup, live_server, ground_today, monkeypatch) -> Iterator[Visitors]:
    """The database comes first, so that the server shares its one connection in memory.

    For these tests only: the browser's own loop makes Django refuse plain database calls.
    """
    path = shutil.which("chromium")
    if path is None:
        pytest.skip("needs Chromium on the path: apt-get install chromium")
    monkeypatch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=ARGUMENTS)
        visitors = Visitors(browser, live_server.url)
        yield visitors
        browser.close()


@pytest.fixture
def profile(django_db_setup, live_server, ground_today, monkeypatch, tmp_path):
    """A browser profile that outlives its browser; for what a tablet keeps."""
    from tests.browser.yard import Profile

    if shutil.which("chromium") is None:
        pytest.skip("needs Chromium on the path: apt-get install chromium")
    monkeypatch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
    with sync_api.sync_playwright() as playwright:
        made = Profile(playwright, tmp_path / "profile", live_server.url)
        yield made
        made.close()


class BrowserStopped(Exception):
    """The browser, or the pipe to it, gave no answer for minutes."""


def _stopped(signum, frame):
    raise BrowserStopped(f"no answer within {LONGEST_S} s")


LONGEST_S = 150


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_protocol(item, nextitem):
    """A browser that stops answering ends its test instead of the whole run.

    Waiting for a script in the page knows no time limit of its own. Such a test is walked once
    more; one that fails for any other reason is not.
    """
    if item.get_closest_marker("browser") is None:
        return None
    item.ihook.pytest_runtest_logstart(nodeid=item.nodeid, location=item.location)
    reports = _walked(item, nextitem)
    if any("BrowserStopped" in str(each.longrepr) for each in reports if each.failed):
        item._initrequest()
        reports = _walked(item, nextitem)
    for each in reports:
        item.ihook.pytest_runtest_logreport(report=each)
    item.ihook.pytest_runtest_logfinish(nodeid=item.nodeid, location=item.location)
    return True


def _walked(item, nextitem):
    before = signal.signal(signal.SIGALRM, _stopped)
    signal.alarm(LONGEST_S)
    try:
        return runtestprotocol(item, nextitem=nextitem, log=False)
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)
