"""The pictures of the README, made from a running demo: ``make pictures`` beside ``make demo``.

Lights the burn that the demo has ready, so it is best run on a fresh demo.
"""

from __future__ import annotations

import shutil
import sys
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright

FOLDER = Path(__file__).parents[1] / "fixtures" / "pictures"
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--force-color-profile=srgb",
]
PASSWORD = "kestrel moor demo"


def sign_in(page: Any, base: str, name: str) -> None:
    page.context.clear_cookies()
    page.goto(f"{base}/sign-in/")
    page.fill("#id_sign_in", name)
    page.fill("#id_password", PASSWORD)
    page.click("button.main")
    page.wait_for_load_state()


def plan(page: Any, base: str) -> None:
    sign_in(page, base, "manager")
    page.goto(f"{base}/plans/?state=submitted")
    page.locator("td a").first.click()
    page.set_viewport_size({"width": 1280, "height": 1080})
    page.screenshot(path=FOLDER / "plan.png")


def before(page: Any, base: str, sheet: str) -> None:
    """The day before the fire, and the two who sign: the safety officer, then the instructor."""
    sign_in(page, base, "safety")
    page.goto(sheet)
    for link, fill in (
        ("Look at items", lambda: [each.check() for each in page.locator("form.stack").get_by_role("checkbox").all()]),
        ("Call the roll", lambda: None),
        ("Record a briefing", lambda: None),
        ("Read the weather", lambda: page.fill("#id_words", "dry, light westerly")),
    ):  # fmt: skip
        page.get_by_role("link", name=link).click()
        fill()
        page.locator("button.main").click()
    for name in ("safety", "instructor"):
        sign_in(page, base, name)
        page.goto(sheet)
        page.get_by_role("link", name="Sign: fit to burn").click()
        page.fill("#id_password", PASSWORD)
        page.locator("button.main").click()


def yard(page: Any, base: str) -> None:
    sign_in(page, base, "instructor")
    page.set_viewport_size({"width": 390, "height": 844})
    page.goto(f"{base}/")
    page.get_by_role("link", name="Unit 2").first.click()
    sheet = page.url.replace("/plans/", "/burns/before/")
    before(page, base, sheet)
    page.goto(sheet)
    page.get_by_role("link", name="Check and light").click()
    page.locator("button.main").click()
    page.get_by_role("button", name="Growth", exact=True).click()
    page.fill("#id_height_m", "1.4")
    page.get_by_role("button", name="Note the neutral plane").click()
    page.get_by_role("button", name="Water applied").click()
    page.goto(f"{base}/yard/")
    page.locator("body[data-state=sent]").wait_for(state="attached")
    page.screenshot(path=FOLDER / "yard.png")


def history(page: Any, base: str) -> None:
    sign_in(page, base, "auditor")
    page.set_viewport_size({"width": 1280, "height": 900})
    page.goto(f"{base}/units/")
    page.get_by_role("link", name="Unit 1").first.click()
    page.get_by_role("link", name="History").click()
    page.wait_for_load_state()
    page.screenshot(path=FOLDER / "history.png")


def main(base: str) -> None:
    with sync_playwright() as player:
        browser = player.chromium.launch(executable_path=shutil.which("chromium"), args=ARGUMENTS)
        page = browser.new_page(device_scale_factor=1)
        for take in (plan, yard, history):
            take(page, base)
        browser.close()


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "http://127.0.0.1:8000")
