"""An inspector with a tablet at the unit: a defect is found on a part, stops an approved plan, and
is closed by somebody who is not on the repair."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from tests import builders
from tests.browser.conftest import Visitors
from tests.photographs.drawing import photo

pytestmark = pytest.mark.browser
HOUR = dt.timedelta(hours=1)
TABLET = {"viewport": {"width": 820, "height": 1180}}


def fits(page: Page) -> bool:
    """Nothing has to be pushed sideways."""
    return page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def of_unit(page: Page, ground: builders.Ground) -> None:
    page.goto(f"/units/{ground.unit.public_id}/")


def find_a_torn_hinge(page: Page, ground: builders.Ground, part: str) -> None:
    """Tap the door on the drawing, say what it is, photograph it."""
    of_unit(page, ground)
    page.get_by_role("link", name="Inspect", exact=True).first.click()
    assert fits(page)
    for box in page.locator("[name^=item_]").all():
        box.check()
    look = page.locator(f"details[data-look='{part}']")
    expect(look).not_to_have_attribute("open", "")
    page.locator(f"svg [data-part='{part}'] .hit").first.click()
    expect(look).to_have_attribute("open", "")
    look.get_by_label("unfit for burning").check()
    expect(page.locator(f"svg [data-part='{part}']").first).to_have_class(re.compile("marked"))
    look.get_by_label("Note, door").fill("upper hinge torn out of the frame")
    look.get_by_label("Photograph, door").set_input_files(
        {"name": "hinge.jpg", "mimeType": "image/jpeg", "buffer": photo(1200, 900)}
    )
    page.locator("[name=outcome][value=unfit]").check()
    page.get_by_role("button", name="Record the inspection").click()
    expect(page.get_by_text("The inspection is recorded.")).to_be_visible()
    expect(page.get_by_text("This unit is out of service.")).to_be_visible()
    assert fits(page)


def plan_says(page: Page, reference: str, words: str) -> None:
    page.goto(f"/plans/{reference}/")
    expect(page.locator("main")).to_contain_text(words)


def test_a_defect_found_on_a_tablet_stops_a_plan_until_another_person_returns_the_unit(
    visitors: Visitors, ground_today: builders.Ground
):
    ground, now = ground_today, timezone.now()
    builders.accepted_lot(ground, at=now)
    plan = builders.approved(ground, builders.content(ground, 1, starts_at=now + HOUR), at=now)
    door = ground.unit.openings.get().public_id

    page = visitors.person(ground.inspector, **TABLET)
    find_a_torn_hinge(page, ground, door)
    plan_says(
        visitors.person(ground.instructor, **TABLET), plan.public_id, "Restricted since approval"
    )

    of_unit(page, ground)
    page.get_by_role("link", name="upper hinge torn out of the frame").click()
    expect(page.locator("figure.photo img")).to_be_visible()
    page.get_by_role("link", name="Record a repair").click()
    page.get_by_label("What was done").fill("new hinge welded")
    page.get_by_label("Done or led by").select_option(label=ground.inspector.name)
    page.get_by_role("button", name="Record this repair").click()
    page.get_by_role("link", name="Check the repair").click()
    page.get_by_label("What was checked, and what it showed").fill("swung ten times, no crack")
    page.get_by_label("the repair holds").check()
    page.get_by_role("button", name="Record this check").click()
    expect(page.get_by_text("What was checked is recorded.")).to_be_visible()
    defect = page.url

    other = visitors.person(ground.inspector_two, **TABLET)
    other.goto(defect)
    other.get_by_role("link", name="Return to service").click()
    other.get_by_label("What you saw").fill("hinge sound, door closes")
    other.get_by_label("Your password").fill(builders.PASSWORD)
    other.get_by_role("button", name="Sign and return to service").click()
    of_unit(other, ground)
    expect(other.get_by_text("This unit is in service.")).to_be_visible()
    assert visitors.complaints == []
