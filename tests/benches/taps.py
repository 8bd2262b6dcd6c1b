"""The yard page in a real browser: how soon a tap is said to be saved, and a long queue sent.

``CHARLINE_YARD_EVENTS`` makes the queue shorter. Without Chromium nothing is measured.
"""

from __future__ import annotations

import datetime as dt
import os
import shutil
import statistics
import tempfile
import time
from pathlib import Path

from django.core.management import call_command
from django.utils import timezone
from playwright.sync_api import Page, sync_playwright

from records.yard.models import YardEvent
from tests import builders
from tests.benches.yard import MANY, Row, serving
from tests.browser.queueing import QUEUE
from tests.browser.yard import Profile, all_sent, prepared

TAPS = 40

# From the tap until the page has drawn that it is saved, which it says once the storage has it.
TIMED = """async (count) => {
  const button = document.querySelector("[data-group=fire] button");
  const box = document.getElementById("said");
  const drawn = () => new Promise((done) => requestAnimationFrame(() => setTimeout(done)));
  const saved = () => new Promise((done) => {
    const seen = () => !box.hidden && box.dataset.tone === "saved";
    const watch = new MutationObserver(() => { if (seen()) { watch.disconnect(); done(); } });
    watch.observe(box, { attributes: true, childList: true, subtree: true });
  });
  const took = [];
  for (let n = 0; n < count; n += 1) {
    box.hidden = true;
    await drawn();
    const began = performance.now(), said = saved();
    button.click();
    await said;
    await drawn();
    took.push(performance.now() - began);
    await new Promise((done) => setTimeout(done, 50));
  }
  return took;
}"""


def rows() -> list[Row]:
    if shutil.which("chromium") is None:
        return [("no Chromium: not measured", 0, "")]
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"  # the browser's loop runs beside plain calls
    call_command("collectstatic", interactive=False, verbosity=0)  # what the page keeps offline
    with (
        serving() as base,
        tempfile.TemporaryDirectory() as folder,
        sync_playwright() as playwright,
    ):
        profile = Profile(playwright, Path(folder) / "profile", base)
        try:
            return _measured(profile)
        finally:
            profile.close()


def _measured(profile: Profile) -> list[Row]:
    now = timezone.now().replace(microsecond=0)
    ground = builders.found_ground("Tap ground", at=now - dt.timedelta(days=2))
    builders.accepted_lot(ground, at=now - dt.timedelta(days=2))
    content = builders.content(ground, starts_at=now - dt.timedelta(minutes=10))
    burn = builders.lit(ground, content, at=now - dt.timedelta(days=1))
    page = prepared(profile, ground.instructor)
    with_signal = _taps(page)
    page.context.set_offline(True)
    without = _taps(page)
    page.evaluate(QUEUE, MANY)
    page.context.set_offline(False)
    began = time.perf_counter()
    busy = _taps(page)
    all_sent(page, 600)
    sent = time.perf_counter() - began
    stored = YardEvent.objects.filter(burn=burn).count()
    return [
        *_said("tap until it is said to be saved", with_signal),
        *_said("the same without a signal", without),
        *_said(f"the same while {MANY:,} events are sent", busy),
        (f"{MANY:,} queued events and the taps sent by the browser", sent, "s"),
        ("  events too many or too few", stored - MANY - 3 * TAPS, ""),
    ]


def _taps(page: Page) -> list[float]:
    page.get_by_role("button", name="Fire", exact=True).click()
    took: list[float] = page.evaluate(TIMED, TAPS)
    return took


def _said(what: str, took: list[float]) -> list[Row]:
    return [(f"{what}, p50", statistics.median(took), "ms"), ("  the slowest", max(took), "ms")]
