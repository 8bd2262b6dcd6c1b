"""The whole job in a browser, each step by the person whose it is."""

from __future__ import annotations

import datetime as dt

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from facility.people.models import Person
from tests import builders
from tests.browser.conftest import Visitors

pytestmark = pytest.mark.browser


class Story:
    """The steps in order; each opens the program as the person whose step it is."""

    def __init__(self, visitors: Visitors, ground: builders.Ground) -> None:
        self.visitors, self.ground, self.now = visitors, ground, timezone.now()

    def typed(self, minutes: int, since: dt.datetime | None = None) -> str:
        later = (since or self.now) + dt.timedelta(minutes=minutes)
        when = timezone.localtime(later, self.ground.site.zone)
        return when.strftime("%Y-%m-%dT%H:%M")

    def receive_and_accept(self) -> None:
        page = self.visitors.person(self.ground.stores)
        page.get_by_role("link", name="Store", exact=True).click()
        page.get_by_role("link", name="Record a delivery").click()
        page.get_by_label("Supplier").fill("Board yard")
        page.get_by_label("Docket number").fill("D-1")
        page.get_by_label("Delivered").fill(self.typed(-120))
        page.get_by_label("The docket states new").check()
        page.locator("[name=product_0]").select_option(label="Test board")
        page.locator("[name=code_0]").fill("P-77")
        page.locator("[name=received_0]").fill("40")
        for answer in page.locator("[name^=mark_][name$=_0][value=no]").all():
            answer.check()
        page.get_by_role("button", name="Take into the store").click()
        expect(page.locator("h1")).to_contain_text("Lot P-77")
        page.get_by_role("link", name="Take readings").click()
        address = page.url.partition("/store/")[1] + page.url.partition("/store/")[2].removesuffix(
            "readings/"
        )
        page.get_by_label("Meter").select_option(index=1)
        page.locator("[name=reading_0]").focus()
        for reading in ("8.0", "8,0", "8.5", "7.5", "8.0"):
            page.keyboard.type(reading)
            page.keyboard.press("Enter")  # goes down
        expect(page.locator("#judged")).to_contain_text("5 of 5")
        expect(page.locator("#judged")).to_contain_text("passes")
        page.get_by_role("button", name="Record these readings").click()
        page.get_by_role("link", name="Accept", exact=True).click()
        page.get_by_label("Your password").fill(builders.PASSWORD)
        page.get_by_role("button", name="Sign and accept").click()
        page.goto(page.url.partition("/audit/")[0] + address)
        expect(page.get_by_text("This lot may burn.")).to_be_visible()

    def plan_too_much_then_less(self) -> None:
        page = self.visitors.person(self.ground.instructor)
        page.get_by_role("link", name="Plans", exact=True).click()
        page.get_by_role("link", name="New plan").click()
        self._fill_plan(page)
        page.locator("[name=quantity_0]").press_sequentially("5")
        live = page.locator("#live")
        # the first chart of a process waits for imports, which a web server does as it starts
        expect(live).to_contain_text("This burn may not go ahead as planned.", timeout=30_000)
        expect(live).to_contain_text("25.0\u202fkg over")  # five boards of 25 kg, the cap is 100
        page.get_by_role("button", name="Save the draft").click()
        expect(page.locator("main")).to_contain_text("25.0\u202fkg over")
        expect(page.get_by_role("button", name="Submit for approval")).to_be_disabled()
        page.get_by_role("link", name="Change", exact=True).click()
        page.locator("[name=quantity_0]").fill("4")
        expect(page.locator("#live")).to_contain_text("Every limit of the standard is met.")
        page.get_by_role("button", name="Save as new version").click()
        page.get_by_role("button", name="Submit for approval").click()
        expect(page.get_by_text("Submitted; a burn manager")).to_be_visible()

    def _fill_plan(self, page: Page) -> None:
        ground = self.ground
        page.get_by_label("Unit", exact=True).select_option(label="Unit 1")
        page.get_by_label("Exercise").select_option(value="demonstration")
        page.get_by_label("Start", exact=True).fill(self.typed(0))
        page.get_by_label("End", exact=True).fill(self.typed(45))
        page.get_by_label("Instructor in charge").select_option(label=ground.instructor.name)
        page.get_by_label("Safety officer").select_option(label=ground.safety.name)
        page.get_by_label("Ignition officer").select_option(label=ground.setter.name)
        page.get_by_label("Ignition observer").select_option(label=ground.observer.name)
        page.get_by_label(ground.instructor_two.name, exact=True).check()
        for learner in ground.learners[:3]:
            page.get_by_label(learner.name, exact=True).check()
        page.get_by_label("Objective").fill("Show the growth of a fire")
        page.get_by_label("Stop when").fill("Stop when the layer drops")
        page.locator("[name=position_0]").select_option(label="Ceiling")
        page.locator("[name=product_0]").select_option(label="Test board")

    def approve(self) -> None:
        page = self.visitors.person(self.ground.manager)
        page.get_by_role("link", name="Read and decide").click()
        page.get_by_role("link", name="Approve", exact=True).click()
        page.get_by_label("Your password").fill(builders.PASSWORD)
        page.get_by_role("button", name="Sign and approve").click()
        expect(page.get_by_text("Approved and frozen as it stands.")).to_be_visible()

    def issue(self) -> None:
        page = self.visitors.person(self.ground.stores)
        page.get_by_role("link", name="Issue", exact=True).click()
        expect(page.locator("main")).to_contain_text("P-77")
        page.get_by_role("button", name="Issue these").click()
        expect(page.get_by_text("The boards are out of the store.")).to_be_visible()

    def burn(self) -> None:
        page = self.visitors.person(self.ground.instructor)
        page.get_by_role("link", name="Plans", exact=True).click()
        page.locator("tbody a").first.click()
        page.get_by_role("link", name="Check and light").click()
        for box in page.locator("[name^=item_]").all():
            box.check()
        page.get_by_label("Weather").fill("dry, calm")
        page.get_by_role("button", name="All in order: lit").click()
        page.get_by_role("button", name="Growth", exact=True).click()
        expect(page.locator(".timeline")).to_contain_text("growth")
        page.get_by_label("Neutral plane above floor").fill("1,4")
        page.get_by_role("button", name="Note the neutral plane").click()
        expect(page.locator(".timeline")).to_contain_text("neutral plane, 1.40\u202fm")
        page.get_by_role("link", name="Fire out: close the burn").click()
        # the walk is quicker than a fire: its end is typed two minutes on, which clocks may differ
        page.get_by_label("Fire out", exact=True).fill(self.typed(2, timezone.now()))
        for box in page.locator("[name^=item_]").all():
            box.check()
        page.get_by_label("Your password").fill(builders.PASSWORD)
        page.get_by_role("button", name="Close the burn").click()
        expect(page.get_by_text("The burn is closed; Unit 1 counts one more.")).to_be_visible()

    def burns_of_the_unit(self, who: Person) -> int:
        page = self.visitors.person(who)
        page.get_by_role("link", name="Units", exact=True).click()
        page.get_by_role("link", name="Unit 1", exact=True).first.click()
        counts = page.locator("table", has=page.get_by_text("Recorded heat")).locator("tbody tr")
        return int(counts.first.locator("[data-label=Burns]").inner_text())

    def inspect(self) -> None:
        page = self.visitors.person(self.ground.inspector)
        page.get_by_role("link", name="Units", exact=True).click()
        page.get_by_role("link", name="Unit 1", exact=True).first.click()
        page.get_by_role("link", name="Inspect", exact=True).first.click()
        for box in page.locator("[name^=item_]").all():
            box.check()
        page.locator("[name=outcome][value=good]").check()
        page.get_by_role("button", name="Record the inspection").click()
        expect(page.get_by_text("The inspection is recorded.")).to_be_visible()

    def audit(self) -> bytes:
        page = self.visitors.person(self.ground.auditor)
        page.get_by_role("link", name="Units", exact=True).click()
        page.get_by_role("link", name="Unit 1", exact=True).first.click()
        page.get_by_role("link", name="History").click()
        expect(page.locator("main table").last).to_contain_text("burn")
        expect(page.locator("main table").last).to_contain_text("inspection")
        address = page.get_by_role("link", name="As PDF").get_attribute("href")
        return page.request.get(address).body()


def test_the_whole_job_from_delivery_to_the_auditors_print(visitors, ground_today):
    story = Story(visitors, ground_today)
    story.receive_and_accept()
    story.plan_too_much_then_less()
    story.approve()
    story.issue()
    before = story.burns_of_the_unit(ground_today.safety)
    story.burn()
    assert story.burns_of_the_unit(ground_today.safety) == before + 1
    story.inspect()
    assert story.audit().startswith(b"%PDF")
    assert visitors.complaints == []
