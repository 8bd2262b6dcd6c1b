"""Entry control on the whole yard page: without a signal, after a reload, and at the server."""

import pytest

from records.yard import entry_control
from records.yard.models import YardEvent
from tests.browser.conftest import sync_api
from tests.browser.test_yard_look import picture
from tests.browser.yard import all_sent, prepared, ready, running_burn, without_signal

pytestmark = pytest.mark.browser

expect = sync_api.expect


@pytest.fixture
def page(profile, ground_today):
    """The yard page on a phone, ready for the time without a signal."""
    running_burn(ground_today)
    yield prepared(profile, ground_today.instructor)
    assert profile.complaints == []


def press(page, bar):
    for figure in str(bar):
        page.locator(f"[data-key='{figure}']").click()
    page.locator("[data-pad-act]").click()


def goes_in(page, who, bar):
    page.locator(f"[data-enter='{who.public_id}']").click()
    press(page, bar)


def test_the_board_works_without_a_signal_and_the_server_hears_of_it(page, ground_today):
    """In, read and out while there is no signal; a reload restores it; then all is sent."""
    one, two = ground_today.instructor, ground_today.learners[0]
    with without_signal(page):
        page.locator("[data-tab=board]").click()
        page.locator("summary", has_text="Figures of the board").click()
        page.get_by_label("Volume of one cylinder").fill("6.8")
        page.get_by_role("button", name="Use these figures").click()
        expect(page.locator("[data-at=unknown]")).to_be_hidden()
        goes_in(page, one, 300)
        goes_in(page, two, 290)
        expect(page.locator(".wearer")).to_have_count(2)
        picture(page, "inside")
        page.reload()
        ready(page)
        page.locator("[data-tab=board]").click()
        expect(page.locator(".wearer [data-row=name]")).to_have_text([one.name, two.name])
        page.locator(f"[data-who='{two.public_id}']").get_by_role("button", name="Out").click()
        press(page, 250)
        expect(page.locator(".wearer")).to_have_count(1)
        expect(page.locator("[data-tab=board]")).to_have_attribute("data-count", "1")
    all_sent(page)
    burn = YardEvent.objects.first().burn
    assert [each.kind for each in YardEvent.objects.order_by("device_seq")] == [
        "air_numbers", "person_in", "person_in", "person_out",
    ]  # fmt: skip
    log = entry_control.entry_log(burn, burn.ignited_at)
    assert [(line.name, line.bar_in, line.bar_out) for line in log.lines] == [
        (one.name, 300, None), (two.name, 290, 250),
    ]  # fmt: skip
    assert all("name" not in each.value for each in YardEvent.objects.filter(kind="person_in"))


def test_the_alarm_is_seen_from_every_part_of_the_page(page, ground_today):
    """Missing at the roll call: shown above the fire's buttons too, and the tab says so."""
    page.locator("[data-tab=board]").click()
    page.locator(f"[data-enter='{ground_today.instructor.public_id}']").click()
    picture(page, "keypad")
    press(page, 300)
    page.get_by_role("button", name="Roll call").click()
    page.get_by_role("button", name="1 missing").click()
    page.locator("[data-tab=fire]").click()
    alarm = page.locator(".yard-top [data-at=alarm-words]")
    expect(alarm).to_be_visible()
    expect(alarm).to_contain_text(ground_today.instructor.name)
    expect(page.locator("[data-tab=board]")).to_have_attribute("data-alarm", "yes")
    picture(page, "alarm")
    page.get_by_role("button", name="Heard").click()
    expect(page.locator("#entry-board")).to_have_attribute("data-ringing", "no")
    all_sent(page)
