"""A standard changed in a browser: drafted, compared, put in force by another, asked of the past."""

from __future__ import annotations

import datetime as dt

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from tests import builders

pytestmark = pytest.mark.browser
DAY = dt.timedelta(days=1)


@pytest.fixture
def season(ground_today):
    """Two burns of 1297.5 MJ (three boards), and a plan alike that is still a draft."""
    now = timezone.now()
    ground = builders.found_ground("Season ground", at=now - 10 * DAY)
    builders.accepted_lot(ground, 40, at=now - 9 * DAY)
    for days in (6, 3):
        lit = now - days * DAY
        builders.closed(ground, builders.content(ground, starts_at=lit), at=lit - DAY)
    builders.drafted(ground, builders.content(ground, starts_at=now + 2 * DAY), at=now)
    return ground


def test_an_edition_is_drafted_compared_put_in_force_and_asked_of_the_season(visitors, season):
    page = visitors.person(season.safety)
    page.get_by_role("link", name="Standard", exact=True).click()
    page.get_by_role("link", name="Draft an edition").click()
    page.get_by_label("Code").fill("T-2")
    page.get_by_label("Title").fill("Second edition")
    page.get_by_label("Begin with").select_option(label="T-1, Edition T-1")
    page.get_by_role("button", name="Begin the draft").click()
    expect(page.locator("main")).to_contain_text("could pass")

    page.get_by_role("link", name="F-07", exact=True).click()
    page.get_by_label("Limit", exact=False).first.fill("1000")
    page.get_by_role("button", name="Write this row").click()
    expect(page.locator("main")).to_contain_text("could not pass")
    expect(page.locator("main")).to_contain_text("F-07: Energy in the charge")

    page.get_by_role("link", name="Add a row").click()
    page.get_by_label("Row", exact=True).fill("K-1")
    page.get_by_label("What it asks").fill("Time for the burn")
    page.get_by_label("Fact").select_option("burn.planned_minutes")
    page.get_by_label("Compared").select_option("<=")
    page.get_by_label("Limit", exact=False).first.fill("10")
    page.get_by_label("Effect").select_option("block")
    page.get_by_label("Basis").select_option("local")
    page.get_by_label("Clause").fill("decided by the ground")
    page.get_by_role("button", name="Write this row").click()
    expect(page.locator("main")).to_contain_text("K-1: Time for the burn")
    edition = page.url

    page.get_by_role("link", name="What changes against T-1").click()
    expect(page.locator("main")).to_contain_text("stricter")
    expect(page.locator("main")).to_contain_text("Time for the burn")
    page.goto(edition)
    page.get_by_role("button", name="Propose it").click()
    expect(page.locator("main")).to_contain_text("You wrote in it")

    manager = visitors.person(season.manager)
    manager.goto(edition)
    manager.get_by_role("link", name="Put in force").click()
    manager.get_by_label("Your password").fill(builders.PASSWORD)
    manager.get_by_role("button", name="Put in force").click()
    expect(manager.locator("main")).to_contain_text("put in force as it stands")  # the receipt
    manager.goto(edition)
    expect(manager.locator("main")).to_contain_text("coming")

    manager.get_by_role("link", name="Judge past burns by it").click()
    expect(manager.locator("main")).to_contain_text("2 of 2 burns would have been refused")
    expect(manager.locator("main")).to_contain_text("F-07")
    assert visitors.complaints == []
