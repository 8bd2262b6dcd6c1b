"""Nothing that was shown as saved is lost, and each event arrives once: the recipes of a real yard.

The browser is real, and so is what happens to it: its network is switched off, it is killed, its
clock is set, its storage is filled or cleared. ``CHARLINE_YARD_KILLS`` (50 for the whole recipe) and
``CHARLINE_YARD_EVENTS`` (10000) say how much of the long ones is walked.
"""

from __future__ import annotations

import datetime as dt
import json
import os
import time

import pytest
from django.contrib.sessions.models import Session
from django.utils import timezone
from playwright.sync_api import expect

from records.accounts import services as accounts
from records.yard import selectors, services, shell, sync_views
from records.yard.models import SetAside, YardEvent
from tests.browser.queueing import QUEUE
from tests.browser.yard import (
    all_sent,
    in_contact,
    prepared,
    ready,
    running_burn,
    shown,
    tap,
    unsent,
    without_signal,
)

pytestmark = pytest.mark.browser
KILLS = int(os.environ.get("CHARLINE_YARD_KILLS", "3"))
MANY = int(os.environ.get("CHARLINE_YARD_EVENTS", "450"))

# Fill the storage until not even a few bytes go in.
FILL = """async () => {
  const store = await import("/static/yard/store.js");
  for (let size = 1e6, n = 0; size >= 100; ) {
    try { await store.keep(`junk-${n++}`, crypto.getRandomValues(new Uint8Array(Math.min(size, 65536)))); }
    catch { size /= 10; }
    if (n > 3000) throw new Error("never full");
  }
}"""

FREE = """() => new Promise((done, failed) => {
  const opening = indexedDB.open("charline-yard");
  opening.onsuccess = () => {
    const freed = opening.result.transaction(["kept"], "readwrite");
    for (const junk of ["junk-0", "junk-1"]) freed.objectStore("kept").delete(junk);
    freed.oncomplete = () => { opening.result.close(); done(); };
    freed.onabort = () => failed(freed.error);
  };
})"""
DATE = "const real = Date.now.bind(Date); window.off = 0; Date.now = () => real() + window.off;"


@pytest.fixture
def burn(ground_today):
    return running_burn(ground_today)


@pytest.fixture
def lead(ground_today):
    return ground_today.instructor


def ids() -> list[str]:
    return [str(each) for each in YardEvent.objects.values_list("event_id", flat=True)]


def test_1_it_starts_from_nothing_without_a_signal(profile, burn, lead):
    prepared(profile, lead)
    profile.close()
    context = profile.open(offline=True)
    page = profile.page()
    page.goto("/yard/")
    ready(page)
    expect(page.locator("#who")).to_have_text(lead.name)
    tap(page, "Fire", "Incipient")
    tap(page, "End", "Knock-down")
    assert unsent(page) == 2
    expect(page.locator("#unsent")).to_contain_text("2 not sent")
    context.set_offline(False)
    all_sent(page)
    events = list(YardEvent.objects.order_by("device_seq"))
    assert [each.kind for each in events] == ["stage", "knock_down"]
    assert {str(each.person) for each in events} == {lead.name}
    assert all("clock_restart" in each.doubts for each in events)  # said, not hidden
    now = timezone.now()
    assert all(abs(each.happened_at - now) < dt.timedelta(seconds=60) for each in events)


def test_2_killed_after_a_tap_every_tap_that_was_shown_is_there(profile, burn, lead):
    page = prepared(profile, lead)
    page.context.set_offline(True)
    seen: list[str] = []
    for number in range(KILLS):
        tap(page, "Fire", "Flames at the ceiling" if number % 2 else "Incipient")
        expect(page.locator("#recent li[data-id]")).to_have_count(min(number + 1, 12))
        if seen:  # of twelve shown there are twelve before the new one is drawn, too
            newest = page.locator("#recent li[data-id]").first
            expect(newest).not_to_have_attribute("data-id", seen[-1])
        seen.append(shown(page)[-1])
        profile.kill()
        profile.open(offline=True)
        page = profile.page()
        page.goto("/yard/")
        ready(page)
        assert shown(page) == seen[-12:]
        assert unsent(page) == number + 1
    profile.seat(lead)  # the cookie of the sitting went with the browser
    page.context.set_offline(False)
    all_sent(page)
    assert ids() == seen


def test_3_a_reply_that_is_lost_leaves_one_row(profile, burn, lead):
    page = prepared(profile, lead)
    lost = []

    def drop(route):
        if lost:
            route.continue_()
        else:
            lost.append(route.fetch().status)
            route.abort()

    page.context.route("**/yard/sync/", drop)
    tap(page, "Fire", "Incipient")
    all_sent(page)
    assert lost == [200]  # the server had stored it, and said so
    assert len(ids()) == 1
    assert not SetAside.objects.exists()


def test_4_two_tabs_that_send_at_once_store_each_event_once(profile, burn, lead):
    page = prepared(profile, lead)
    other = profile.page()
    other.goto("/yard/")
    ready(other)
    in_contact(other)
    with without_signal(page):
        page.evaluate(QUEUE, 60)
        other.evaluate(QUEUE, 60)
    for each in (page, other):  # past the lock of the page: both send all they know of
        each.evaluate(
            """() => { window.sent = (async () => {
              const store = await import("/static/yard/store.js");
              const clock = await import("/static/yard/clock.js");
              const hello = await (await fetch("/yard/hello/")).json();
              const rows = await store.unsent();
              const body = JSON.stringify({ v: 1, device: rows[0].device, now: clock.reading(), shell: "x", events: rows.map((row) => row.text) });
              const headers = { "Content-Type": "application/json", "X-CSRFToken": hello.csrf };
              const answers = await Promise.all([1, 2, 3].map(() => fetch("/yard/sync/", { method: "POST", body, headers })));
              return answers.map((answer) => answer.status);
            })(); }"""
        )
    assert page.evaluate("() => window.sent") == [200] * 3
    assert other.evaluate("() => window.sent") == [200] * 3
    all_sent(page)
    numbers = list(YardEvent.objects.order_by("device_seq").values_list("device_seq", flat=True))
    assert numbers == list(range(1, 121))
    assert selectors.open_doubts(burn) == []
    assert not SetAside.objects.exists()


def test_5_batches_that_overlap_in_any_order_store_each_event_once(profile, burn, lead):
    page = prepared(profile, lead)
    with without_signal(page):
        page.evaluate(QUEUE, 60)
    sizes = [(40, 60), (0, 25), (20, 45), (10, 30), (0, 60)]  # first to last, the end left out
    page.evaluate(
        """(sizes) => { window.sent = (async () => {
          const store = await import("/static/yard/store.js");
          const clock = await import("/static/yard/clock.js");
          const hello = await (await fetch("/yard/hello/")).json();
          const texts = (await store.unsent()).map((row) => [row.device, row.text]);
          const headers = { "Content-Type": "application/json", "X-CSRFToken": hello.csrf };
          const found = [];
          for (const [from, to] of sizes) {
            const events = texts.slice(from, to).map(([, text]) => text).reverse();
            const body = JSON.stringify({ v: 1, device: texts[0][0], now: clock.reading(), shell: "x", events });
            found.push((await fetch("/yard/sync/", { method: "POST", body, headers })).status);
          }
          return found;
        })(); }""",
        sizes,
    )
    assert page.evaluate("() => window.sent") == [200] * len(sizes)
    all_sent(page)
    numbers = list(YardEvent.objects.order_by("device_seq").values_list("device_seq", flat=True))
    assert numbers == list(range(1, 61))
    times = list(YardEvent.objects.order_by("device_seq").values_list("happened_at", flat=True))
    assert times == sorted(times)
    assert selectors.open_doubts(burn) == []
    assert not SetAside.objects.exists()


@pytest.mark.parametrize("hours", [3, -3])
def test_6_a_clock_that_is_set_moves_no_event(profile, burn, lead, hours):
    """The zone of the device is another one than the ground's as well."""
    profile.open(timezone_id="Asia/Tokyo").add_init_script(DATE)
    page = profile.page()
    profile.seat(lead)
    page.goto("/yard/")
    ready(page)
    in_contact(page)
    with without_signal(page):
        tap(page, "Fire", "Incipient")
        page.evaluate("hours => { window.off = hours * 3600000 }", hours)
        tap(page, "Fire", "Decay")
        page.evaluate("() => { window.off = 0 }")
        tap(page, "End", "Knock-down")
    all_sent(page)
    before, moved, after = YardEvent.objects.order_by("device_seq")
    assert before.happened_at <= moved.happened_at <= after.happened_at
    assert after.happened_at - before.happened_at < dt.timedelta(minutes=2)
    assert (before.doubts, moved.doubts, after.doubts) == ([], ["clock_jump"], [])
    assert moved.within_ms >= 3 * 3_600_000
    assert before.within_ms < 2_000


def test_7_a_device_that_slept_says_so(profile, burn, lead):
    """The counting clock stood still for 20 minutes, the other one went on."""
    profile.open().add_init_script(DATE)
    page = profile.page()
    profile.seat(lead)
    page.goto("/yard/")
    ready(page)
    in_contact(page)
    with without_signal(page):
        page.evaluate("() => { window.off = 20 * 60000 }")
        tap(page, "Fire", "Decay")
        expect(page.locator("#within[data-tone=watch]")).to_be_visible()
    all_sent(page)
    event = YardEvent.objects.get()
    assert event.doubts == ["clock_jump"]
    assert event.within_ms >= 20 * 60_000
    (doubt,) = selectors.open_doubts(burn)
    assert "slept" in doubt.words


def test_8_full_storage_is_said_and_what_was_saved_is_safe(profile, burn, lead):
    """The limit is set before the page begins: the browser asks only now and then how much is left."""
    profile.open()
    page = profile.page()
    cdp = page.context.new_cdp_session(page)
    cdp.send("Storage.overrideQuotaForOrigin", {"origin": profile.base, "quotaSize": 6_000_000})
    profile.seat(lead)
    page.goto("/yard/")
    ready(page)
    in_contact(page)
    page.context.set_offline(True)
    tap(page, "Fire", "Incipient")
    page.evaluate(FILL)
    page.get_by_role("button", name="Decay", exact=True).click()
    expect(page.locator("#said[data-tone=lost]")).to_contain_text("NOT RECORDED")
    assert len(shown(page)) == unsent(page) == 1
    page.evaluate(FREE)
    cdp.send("Storage.overrideQuotaForOrigin", {"origin": profile.base})
    page.context.set_offline(False)
    all_sent(page)
    tap(page, "Fire", "Fully developed")
    all_sent(page)
    kept = list(YardEvent.objects.order_by("device_seq"))
    assert [each.value["stage"] for each in kept] == ["incipient", "fully_developed"]
    assert selectors.open_doubts(burn) == []  # the chain has no hole


def test_9_a_rescue_file_brings_back_what_was_cleared(profile, burn, lead, tmp_path):
    page = prepared(profile, lead)
    tap(page, "Fire", "Incipient")
    all_sent(page)
    page.context.set_offline(True)
    tap(page, "Fire", "Decay")
    tap(page, "End", "Knock-down")
    page.get_by_role("button", name="Sign out").click()
    expect(page.locator("#said[data-tone=lost]")).to_contain_text("2 events are not sent")
    with page.expect_download() as caught:
        page.get_by_role("button", name="Write a rescue file").click()
    file = tmp_path / "yard.jsonl"
    caught.value.save_as(file)
    assert len(file.read_text().splitlines()) == 2
    cdp = page.context.new_cdp_session(page)
    cdp.send("Storage.clearDataForOrigin", {"origin": profile.base, "storageTypes": "indexeddb,cache_storage,service_workers,local_storage"})  # fmt: skip
    page.context.set_offline(False)
    page.goto("/yard/rescue/")
    page.locator("input[type=file]").set_input_files(file)
    page.get_by_role("button", name="Take it").click()
    expect(page.locator(".messages")).to_contain_text("2 events taken")
    assert list(YardEvent.objects.order_by("device_seq").values_list("device_seq", flat=True)) == [
        1,
        2,
        3,
    ]
    assert "gap" not in {each.key.split(":")[0] for each in selectors.open_doubts(burn)}


def test_9b_cleared_without_a_rescue_file_the_hole_shows(profile, ground_today, burn, lead):
    """On a tablet, which keeps its name; a browser that is none gets a new one, and no chain."""
    from django.conf import settings

    from records.accounts import tablets

    device, key = tablets.enrol_tablet(ground_today.site, name="Yard 1", by=ground_today.admin)
    context = profile.open()
    context.add_cookies([{"name": settings.TABLET_COOKIE_NAME, "value": f"{device.public_id}:{key}", "url": profile.base}])  # fmt: skip
    page = profile.page()
    profile.seat(lead)
    page.goto("/yard/")
    ready(page)
    in_contact(page)
    tap(page, "Fire", "Incipient")
    all_sent(page)
    cdp = context.new_cdp_session(page)
    cdp.send("Storage.clearDataForOrigin", {"origin": profile.base, "storageTypes": "indexeddb"})
    page.goto("/yard/")
    ready(page)
    in_contact(page)
    tap(page, "Fire", "Decay")
    all_sent(page)
    (doubt,) = selectors.open_doubts(burn)
    assert doubt.key.startswith(f"gap:{device.public_id}:2-")
    assert "Yard 1" in doubt.about


def test_9c_cleared_under_the_open_page_it_goes_on_counting(profile, burn, lead):
    page = prepared(profile, lead)
    tap(page, "Fire", "Incipient")
    all_sent(page)
    cdp = page.context.new_cdp_session(page)
    with without_signal(page):
        cdp.send(
            "Storage.clearDataForOrigin", {"origin": profile.base, "storageTypes": "indexeddb"}
        )
        page.get_by_role("button", name="Decay", exact=True).click()
        expect(page.locator("#said[data-tone=saved]")).to_contain_text("Decay")
    all_sent(page)
    first, second = YardEvent.objects.order_by("device_seq")
    assert (first.device, first.device_seq) == (second.device, 1)
    assert (second.device_seq, second.prev) == (2, first.sha256)
    assert not selectors.open_doubts(burn)


def test_10_a_sitting_that_ends_costs_nothing_and_keeps_the_name(profile, ground_today, burn, lead):
    page = prepared(profile, lead)
    with without_signal(page):
        tap(page, "Fire", "Incipient")
        Session.objects.all().delete()
    expect(page.locator("#notice-signed-out")).to_be_visible()
    assert unsent(page) == 1
    profile.seat(ground_today.instructor_two)
    page.goto("/yard/")
    all_sent(page)
    event = YardEvent.objects.get()
    assert (event.person, event.received_by) == (lead, ground_today.instructor_two)
    expect(page.locator("#who")).to_have_text(ground_today.instructor_two.name)
    tap(page, "Fire", "Decay")
    all_sent(page)
    assert YardEvent.objects.last().person == ground_today.instructor_two


def test_11_somebody_switched_off_meanwhile_did_record_it(profile, ground_today, burn, lead):
    page = prepared(profile, lead)
    with without_signal(page):
        tap(page, "Fire", "Incipient")
        accounts.disable_person(
            ground_today.site, lead, reason="left", by=ground_today.admin,
            at=timezone.now() + dt.timedelta(seconds=5),
        )  # fmt: skip
    expect(page.locator("#notice-signed-out")).to_be_visible()
    profile.seat(ground_today.instructor_two)
    page.goto("/yard/")
    all_sent(page)
    event = YardEvent.objects.get()
    assert (event.person, event.doubts) == (lead, ["person_off"])


def test_12_a_newer_server_takes_old_events_or_says_why_not(profile, burn, lead, monkeypatch):
    page = prepared(profile, lead)
    with without_signal(page):
        tap(page, "Fire", "Incipient")
        monkeypatch.setattr(sync_views, "SPEAKS", 2)
    expect(page.locator("#notice-other-version")).to_be_visible()
    assert unsent(page) == 1
    assert not YardEvent.objects.exists()
    monkeypatch.setattr(sync_views, "SPEAKS", 1)
    monkeypatch.setattr(shell, "version", lambda: "newer")
    page.goto("/yard/")  # the page that was kept
    all_sent(page)
    expect(page.locator("#notice-other-version")).to_be_visible()
    assert len(ids()) == 1


def test_13_a_long_queue_is_sent_while_the_page_is_used(profile, burn, lead):
    page = prepared(profile, lead)
    page.context.set_offline(True)
    page.evaluate(QUEUE, MANY)
    page.context.set_offline(False)
    began = time.monotonic()
    tap(page, "Fire", "Incipient")
    used = time.monotonic() - began
    all_sent(page, 120)
    took = time.monotonic() - began
    print(f"{MANY} events sent in {took:.1f} s; a tap meanwhile saved in {used:.2f} s")
    assert YardEvent.objects.count() == MANY + 1
    assert selectors.open_doubts(burn) == []


def test_14_a_batch_that_is_cut_is_whole_or_not_at_all(profile, burn, lead, monkeypatch):
    page = prepared(profile, lead)
    real, cut = services.feed_timeline_behind_door, []

    def broken(*given, **more):
        if not cut:
            cut.append(YardEvent.objects.count())  # written, and not yet for good
            raise RuntimeError("cut off")
        return real(*given, **more)

    monkeypatch.setattr(services, "feed_timeline_behind_door", broken)
    with without_signal(page):
        page.evaluate(QUEUE, 200)
    all_sent(page)
    assert cut == [200]
    assert YardEvent.objects.count() == 200


def test_15_an_event_taken_out_of_the_queue_shows(profile, burn, lead):
    page = prepared(profile, lead)
    with without_signal(page):
        page.evaluate(QUEUE, 3)
        page.evaluate(
            """() => new Promise((resolve) => { const opening = indexedDB.open("charline-yard");
              opening.onsuccess = () => { const t = opening.result.transaction("events", "readwrite");
                const keys = t.objectStore("events").getAllKeys();
                keys.onsuccess = () => t.objectStore("events").delete(keys.result[1]);
                t.oncomplete = () => { opening.result.close(); resolve(); }; }; })"""
        )
    all_sent(page)
    (doubt,) = selectors.open_doubts(burn)
    assert doubt.key.startswith("gap:")
    assert doubt.key.endswith(":2-2")


def test_what_the_browser_spells_the_server_spells_alike(profile, burn, lead):
    page = prepared(profile, lead)
    with without_signal(page):
        page.get_by_role("button", name="End", exact=True).click()
        page.get_by_label("Another reason").fill('ä "quoted" \\ \u2028 \U0001f525 </script>')
        tap(page, "End", "Stop for this reason")
    all_sent(page)
    event = YardEvent.objects.get()
    assert json.loads(event.text)["value"]["reason"] == 'ä "quoted" \\ \u2028 \U0001f525 </script>'
    assert not SetAside.objects.exists()


def test_where_nothing_can_be_kept_the_page_says_so(profile, burn, lead):
    profile.open().add_init_script("Object.defineProperty(window, 'indexedDB', { value: { open() { throw new Error('no'); } } });")  # fmt: skip
    page = profile.page()
    profile.seat(lead)
    page.goto("/yard/")
    expect(page.locator("#nostorage")).to_be_visible()
