"""What the browser tests of the yard share: a profile that outlives its browser, a burn that runs,
and the taps on its page."""

from __future__ import annotations

import datetime as dt
import os
import shutil
import signal
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from django.conf import settings
from django.test import Client
from django.utils import timezone
from playwright.sync_api import BrowserContext, Page, Playwright, expect

from facility.people.models import Person
from tests import builders
from tests.browser.conftest import ARGUMENTS

PHONE = {"width": 390, "height": 844}
PATIENCE_MS = 15_000


class Profile:
    """One browser profile on disk: its storage stays when the browser is closed or killed."""

    def __init__(self, playwright: Playwright, folder: Path, base: str) -> None:
        self.playwright, self.folder, self.base = playwright, folder, base
        self.context: BrowserContext | None = None
        self.complaints: list[str] = []

    def open(self, **options: Any) -> BrowserContext:
        self.context = self.playwright.chromium.launch_persistent_context(
            str(self.folder), executable_path=shutil.which("chromium"), args=ARGUMENTS,
            base_url=self.base, viewport=PHONE, accept_downloads=True, **options,
        )  # fmt: skip
        self.context.set_default_timeout(PATIENCE_MS)
        return self.context

    def page(self) -> Page:
        assert self.context is not None
        page = self.context.new_page()
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on("console", self._hear)
        return page

    def seat(self, who: Person) -> None:
        """Signed in, without typing."""
        client, name = Client(), settings.SESSION_COOKIE_NAME
        client.force_login(who)
        assert self.context is not None
        self.context.add_cookies(
            [{"name": name, "value": client.cookies[name].value, "url": self.base}]
        )

    def _hear(self, message: Any) -> None:
        if "Content Security Policy" in message.text:
            self.complaints.append(message.text)

    def kill(self) -> None:
        """As a battery that falls out does: no goodbye."""
        for pid in self._pids():
            os.kill(pid, signal.SIGKILL)
        assert self.context is not None
        with suppress(Exception):  # it is dead, which is what was wanted
            self.context.close()
        self.context = None
        for name in ("SingletonLock", "SingletonSocket", "SingletonCookie"):
            (self.folder / name).unlink(missing_ok=True)

    def _pids(self) -> list[int]:
        """The main process of the browser that runs on this very folder."""
        found = []
        for entry in Path("/proc").iterdir():
            if entry.name.isdigit():
                try:
                    told = (entry / "cmdline").read_bytes().split(b"\0")
                except OSError:
                    continue
                mine = f"--user-data-dir={self.folder}".encode() in told
                if mine and not any(part.startswith(b"--type=") for part in told):
                    found.append(int(entry.name))
        return found

    def close(self) -> None:
        if self.context is not None:
            self.context.close()
            self.context = None


def running_burn(ground: builders.Ground) -> Any:
    """Lit ten minutes ago."""
    now = timezone.now().replace(microsecond=0)
    builders.accepted_lot(ground, at=now - dt.timedelta(days=2))
    content = builders.content(ground, starts_at=now - dt.timedelta(minutes=10))
    return builders.lit(ground, content, at=now - dt.timedelta(days=1))


def sign_in(page: Page, who: Person) -> None:
    page.goto("/sign-in/")
    page.get_by_label("Sign-in").fill(who.sign_in)
    page.get_by_label("Password").fill(builders.PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url("**/")


def ready(page: Page) -> None:
    """The yard page is drawn from what the browser holds."""
    expect(page.locator("body[data-ready=yes]")).to_be_attached()


def in_contact(page: Page) -> None:
    expect(page.locator("body[data-state=sent]")).to_be_attached(timeout=PATIENCE_MS)


COUNT = "async () => (await import('/static/yard/store.js')).countUnsent()"


def unsent(page: Page) -> int:
    """What the browser's storage holds unsent, whatever the page shows."""
    return int(page.evaluate(COUNT))


def all_sent(page: Page, patience_s: float = PATIENCE_MS / 1000) -> None:
    """The storage holds nothing unsent, and the page says so."""
    until = time.monotonic() + patience_s
    while unsent(page):
        assert time.monotonic() < until, page.locator("body").get_attribute("data-state")
        page.wait_for_timeout(100)
    expect(page.locator("body[data-unsent='0']")).to_be_attached()


def kept_offline(page: Page) -> None:
    expect(page.locator("#offline[data-tone=calm]")).to_be_attached(timeout=PATIENCE_MS)


def prepared(profile: Profile, who: Person, **options: Any) -> Page:
    """The yard page: signed in, in contact, and kept for the time without a signal."""
    profile.open(**options)
    page = profile.page()
    profile.seat(who)
    page.goto("/yard/")
    ready(page)
    in_contact(page)
    kept_offline(page)
    return page


def tap(page: Page, tab: str, name: str) -> None:
    """Tap, and wait until the page says that it is saved."""
    page.locator("#said").evaluate("box => { box.hidden = true }")
    page.get_by_role("button", name=tab, exact=True).click()
    page.locator(f"[data-group={tab.lower()}]").get_by_role("button", name=name, exact=True).click()
    expect(page.locator("#said[data-tone=saved]")).to_be_visible()


def shown(page: Page) -> list[str]:
    """Names of the events in the list, oldest first."""
    ids = page.locator("#recent li[data-id]").evaluate_all(
        "all => all.map(each => each.dataset.id)"
    )
    return list(reversed(ids))


@contextmanager
def without_signal(page: Page) -> Iterator[None]:
    page.context.set_offline(True)
    yield
    page.context.set_offline(False)
