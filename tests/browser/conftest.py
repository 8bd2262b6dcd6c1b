"""A real browser on a live server, and an eye on what it complains about."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field

import pytest
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
