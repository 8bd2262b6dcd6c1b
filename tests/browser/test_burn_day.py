"""A whole day on two tablets: three burns, each from the walk-through to the closed burn sheet.

One tablet is the instructor's and notes the fire, for the most part without a signal; with the
other a second instructor keeps the entry board. The safety officer signs at a browser of the office. Each burn has a unit of its own, because the walk
is quicker than a fire and one unit would still be burning by the clock.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

import pytest
from django.utils import timezone
from playwright.sync_api import Page, expect

from facility.people.models import Person
from records.burns.models import Burn, TimelineEvent
from records.plans.models import Plan
from records.yard.models import YardEvent
from tests import builders
from tests.browser.test_entry_offline import goes_in, press
from tests.browser.yard import Profile, all_sent, in_contact, prepared, ready, tap, without_signal
from tests.burns.days import ASKED, ITEMS

pytestmark = pytest.mark.browser

BURNS = 3


@pytest.fixture
def plans(ground_today) -> list[Plan]:
    """Three burns of today, approved and issued; the standard asks for the whole day."""
    now = timezone.now().replace(second=0, microsecond=0)
    early, yesterday = now - dt.timedelta(days=2), (now - dt.timedelta(days=1)).date()
    units = [ground_today.unit] + [
        builders.commission(ground_today, f"Unit {n}", at=now - dt.timedelta(days=5))
        for n in range(2, BURNS + 1)
    ]
    builders.adopt(ground_today, "T-2", builders.rows(), at=early, day=yesterday, units=units[1:])
    usual = {"comparison": "true", "severity": "block", "clause": "1", "basis": "local"}
    builders.adopt(
        ground_today, "D-1", [{**usual, **row} for row in ASKED], at=early, day=yesterday,
        jurisdiction="county", items=[{"clause": "2", "basis": "local", **each} for each in ITEMS],
    )  # fmt: skip
    builders.accepted_lot(ground_today, at=now - dt.timedelta(days=2))
    made = []
    for unit in units:
        ground_today.unit = unit
        content = builders.content(ground_today, starts_at=now)
        made.append(builders.issued(ground_today, content, at=now - dt.timedelta(hours=3)))
    return made


@pytest.fixture
def browsers(profile, tmp_path, ground_today, plans) -> Iterator[list[Page]]:
    """Two tablets that are ready for the time without a signal, and the safety officer's browser."""
    second, office = (
        Profile(profile.playwright, tmp_path / name, profile.base) for name in ("second", "office")
    )
    pages = [
        prepared(profile, ground_today.instructor), prepared(second, ground_today.instructor_two)
    ]  # fmt: skip
    office.open()
    office.seat(ground_today.safety)
    yield [*pages, office.page()]
    for each in (second, office):
        each.close()
    assert profile.complaints == second.complaints == office.complaints == []


def sign(page: Page, button: str) -> None:
    page.get_by_label("Your password").fill(builders.PASSWORD)
    page.get_by_role("button", name=button).click()


def typed(ground: builders.Ground, minutes: int) -> str:
    later = timezone.localtime(timezone.now() + dt.timedelta(minutes=minutes), ground.site.zone)
    return later.strftime("%Y-%m-%dT%H:%M")


def before(page: Page, plan: Plan, briefing: Person) -> None:
    """Walk-through and check list, roll, briefing, weather."""
    sheet = f"/burns/before/{plan.public_id}/"
    page.goto(sheet)
    page.get_by_role("link", name="Look at items").click()
    for box in page.locator("input[type=checkbox][name^=item_]").all():
        box.check()
    page.get_by_role("button", name="Keep what I saw").click()
    page.goto(sheet)
    page.get_by_role("link", name="Call the roll").click()
    page.get_by_role("button", name="The roll is right").click()
    page.goto(sheet)
    page.get_by_role("link", name="Record a briefing").click()
    page.get_by_label("Given by").select_option(label=briefing.name)
    for box in page.locator("[name=people], [name=topics]").all():
        box.check()
    page.get_by_role("button", name="Keep the briefing").click()
    page.goto(sheet)
    page.get_by_role("link", name="Read the weather").click()
    page.get_by_label("In words").fill("dry, calm")
    page.get_by_role("button", name="Keep the weather").click()
    page.goto(sheet)
    expect(page.locator("main")).to_contain_text("Two people sign now.")


def fit_to_burn(page: Page, plan: Plan) -> None:
    page.goto(f"/burns/before/{plan.public_id}/fit/")
    sign(page, "Sign: fit to burn")


def light(page: Page, plan: Plan) -> Burn:
    page.goto(f"/burns/start/{plan.public_id}/")
    page.get_by_role("button", name="All in order: lit").click()
    expect(page.get_by_role("link", name="Fire out: close the burn")).to_be_visible()
    return Burn.objects.get(version__plan=plan)


def to_the_yard(page: Page) -> None:
    page.goto("/yard/")
    ready(page)
    in_contact(page)


def watch(page: Page) -> None:
    """The fire as it is seen, with no signal at the unit."""
    with without_signal(page):
        tap(page, "Fire", "Growth, early")
        tap(page, "Fire", "Growth, late")
        tap(page, "Fire", "Decay")
    all_sent(page)


def keep_the_board(page: Page, ground: builders.Ground) -> None:
    """Two people in and out again, by their pressures."""
    page.locator("[data-tab=board]").click()
    page.locator("summary", has_text="Figures of the board").click()
    page.get_by_label("Volume of one cylinder").fill("6.8")
    page.get_by_role("button", name="Use these figures").click()
    inside = [ground.instructor, ground.learners[0]]
    for who in inside:
        goes_in(page, who, 300)
    expect(page.locator(".wearer")).to_have_count(len(inside))
    for who in inside:
        page.locator(f"[data-who='{who.public_id}']").get_by_role("button", name="Out").click()
        press(page, 240)
    expect(page.locator(".wearer")).to_have_count(0)
    all_sent(page)


def close(page: Page, burn: Burn, ground: builders.Ground) -> None:
    page.goto(f"/burns/{burn.public_id}/close/")
    page.get_by_label("Fire out", exact=True).fill(typed(ground, 2))
    for box in page.locator("input[type=checkbox][name^=item_]").all():
        box.check()
    sign(page, "Close the burn")
    expect(page.locator("main")).to_contain_text("closed")


def countersign(page: Page, burn: Burn) -> None:
    page.goto(f"/burns/{burn.public_id}/countersign/")
    sign(page, "Countersign")


def test_three_burns_on_two_tablets_from_the_walk_through_to_the_burn_sheet(
    browsers, plans, ground_today
):
    one, two, office = browsers
    for plan in plans:
        before(one, plan, ground_today.instructor)
        fit_to_burn(one, plan)
        fit_to_burn(office, plan)
        burn = light(one, plan)
        to_the_yard(one)
        to_the_yard(two)
        watch(one)
        keep_the_board(two, ground_today)
        close(one, burn, ground_today)
        countersign(office, burn)
        sheet = one.request.get(f"/burns/{burn.public_id}/burn.pdf")
        assert sheet.body().startswith(b"%PDF")
        stages = TimelineEvent.objects.filter(burn=burn, kind="stage").order_by("happened_at")
        assert [each.stage for each in stages] == ["growth_early", "growth_late", "decay"]
        assert YardEvent.objects.filter(burn=burn, kind="person_out").count() == 2
        assert YardEvent.objects.filter(burn=burn).values("device").distinct().count() == 2
    assert {burn.state for burn in Burn.objects.all()} == {"closed"}
    assert YardEvent.objects.filter(late=True).count() == 0
