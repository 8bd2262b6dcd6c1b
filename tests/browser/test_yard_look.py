"""The yard page is tapped through: every kind once, at the size of a phone."""

from __future__ import annotations

import os

import pytest
from playwright.sync_api import expect

from facility.yard.kinds import KINDS
from records.yard.models import YardEvent
from tests.browser.yard import PHONE, all_sent, prepared, running_burn, tap

pytestmark = pytest.mark.browser
PICTURES = os.environ.get("CHARLINE_PICTURES", "")


def test_every_kind_of_the_fire_is_tapped_and_arrives(profile, ground_today):
    burn = running_burn(ground_today)
    page = prepared(profile, ground_today.instructor)
    page.locator("#caller").click()
    page.get_by_role("button", name="The safety safety officer").click()
    for name in (
        "Ignition seen",
        "Incipient",
        "Flames at the ceiling",
        "Flame over heads",
        "Note 1 added",
    ):
        tap(page, "Fire", name)
    page.locator(".pair", has_text="Ceiling").get_by_role("button", name="alight").click()
    page.locator(".pair", has_text="Crib").get_by_role("button", name="not yet").click()
    picture(page, "fire")
    tap(page, "Smoke", "2")
    page.get_by_role("slider").focus()
    page.keyboard.press("ArrowUp")
    tap(page, "Smoke", "Note 1.10 m")
    picture(page, "smoke")
    page.get_by_role("button", name="Note: smoke").click()
    expect(page.locator("#said[data-tone=ask]")).to_contain_text("colour")
    for chip in ("black", "much", "fast"):
        page.get_by_role("button", name=chip, exact=True).last.click()
    tap(page, "Smoke", "Note: smoke")
    for chip in ("in low, out high", "slow", "pulsing"):
        page.get_by_role("button", name=chip, exact=True).first.click()
    tap(page, "Smoke", "Note: air track")
    tap(page, "Vents", "opened")
    tap(page, "Vents", "closed")
    picture(page, "vents")
    page.get_by_role("button", name="Water", exact=True).click()
    page.get_by_role("button", name="pulse", exact=True).click()
    page.get_by_role("button", name="into the smoke layer", exact=True).click()
    tap(page, "Water", "Note: water applied")
    tap(page, "Water", "Steam")
    picture(page, "water")
    tap(page, "End", "Knock-down")
    tap(page, "End", "Fire out")
    tap(page, "End", "Too hot")
    picture(page, "end")
    page.locator("#recent li", has_text="Too hot".lower()).get_by_role("button").click()
    expect(page.locator("#recent li.struck")).to_have_count(1)
    all_sent(page)
    came = list(YardEvent.objects.filter(burn=burn).order_by("device_seq"))
    assert {each.kind for each in came} == {
        each.name for each in KINDS.values() if each.group != "board"
    }
    assert {each.caller for each in came} == {ground_today.safety}
    assert profile.complaints == []


def picture(page, name: str) -> None:
    if not PICTURES:
        return
    for size in (PHONE, {"width": 820, "height": 1180}):
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme=scheme)
            page.set_viewport_size(size)
            page.screenshot(path=f"{PICTURES}/yard-{name}-{size['width']}-{scheme}.png")
    page.set_viewport_size(PHONE)
    page.emulate_media(color_scheme="light")
