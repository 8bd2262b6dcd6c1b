"""The entry control board under a thumb: what is tapped, shown, sounded, refused and restored.

The page here is the board's own part with a desk made of the browser's store, so that the board is
tried by itself; the whole yard page has its own tests.
"""

import http.server
import json
import shutil
import threading
from pathlib import Path

import pytest
from django.template.loader import render_to_string

from facility.yard.kinds import KINDS
from tests.browser.conftest import ARGUMENTS, sync_api

pytestmark = pytest.mark.browser

ROOT = Path(__file__).parents[2]
STATIC = {
    "/static/yard/": ROOT / "records" / "yard" / "static" / "yard",
    "/static/look/": ROOT / "facility" / "look" / "static" / "look",
}
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src data:; connect-src 'self'"
)
DESK = """
import { EntryBoard } from "/static/yard/entry.js";
const burn = await (await fetch("/burn.json")).json();
let shift = 0;
const kept = () => JSON.parse(localStorage.getItem("events") ?? "[]");
const board = new EntryBoard(document.querySelector("#entry-board"), {
  burn: () => burn,
  now: () => Date.now() + shift,
  events: async () => kept(),
  record: async (kind, value, { corrects = "" } = {}) => {
    if (document.body.dataset.full) throw new Error("full");
    const events = kept();
    const made = { id: crypto.randomUUID(), device: "d", device_seq: events.length + 1, kind, value, corrects };
    events.push({ ...made, at: Date.now() + shift });
    localStorage.setItem("events", JSON.stringify(events));
  },
});
globalThis.pass = (minutes) => { shift += minutes * 60000; board.draw(); };
await board.start();
document.body.dataset.ready = "yes";
"""
PEOPLE = [("lead000001", "The lead"), ("learner0001", "Learner 1"), ("learner0002", "Learner 2")]
FIGURES = {"cylinders": "1", "nominal_bar": "300", "whistle_bar": "55", "l_min": "60", "way_out": "2", "cap": "2", "check_min": "15", "stay_min": "20"}  # fmt: skip
TONES = """
globalThis.tones = 0;
const start = OscillatorNode.prototype.start;
OscillatorNode.prototype.start = function (...at) { globalThis.tones += 1; return start.apply(this, at); };
"""


def burn():
    figures = [
        {
            "name": each.name, "label": each.label, "unit": each.unit, "low": each.low,
            "high": each.high, "decimals": each.decimals, "origin": "stated in the plan",
            "value": FIGURES.get(each.name), "needed": each.name in ("cylinder_l", "l_min"),
        }
        for each in KINDS["air_numbers"].fields
    ]  # fmt: skip
    people = [{"who": who, "name": name, "duty": "there"} for who, name in PEOPLE]
    board = {"zone": "UTC", "bar_highest": 350, "people": people, "figures": figures}
    return {"id": "burn", "board": board}


class Site(http.server.BaseHTTPRequestHandler):
    """The part of the page, its modules and its desk, under the policy of the house."""

    def do_GET(self):
        for prefix, folder in STATIC.items():
            if self.path.startswith(prefix):
                return self._say((folder / self.path.removeprefix(prefix)).read_bytes(), self.path)
        if self.path == "/burn.json":
            return self._say(json.dumps(burn()).encode(), self.path)
        if self.path == "/desk.js":
            return self._say(DESK.encode(), self.path)
        page = (
            '<!doctype html><html lang="en"><head><title>Board</title><link rel="icon" href="data:,">'
            '<link rel="stylesheet" href="/static/look/charline.css"></head><body><main>'
            f"{render_to_string('yard/_board.html')}</main>"
            '<script type="module" src="/desk.js"></script></body></html>'
        )
        return self._say(page.encode(), "page.html")

    def _say(self, body, name):
        kinds = {".js": "text/javascript", ".css": "text/css", ".json": "application/json"}
        self.send_response(200)
        self.send_header("Content-Type", kinds.get(Path(name).suffix, "text/html; charset=utf-8"))
        self.send_header("Content-Security-Policy", POLICY)
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *given):
        pass


@pytest.fixture(scope="module")
def chromium():
    path = shutil.which("chromium")
    if path is None:
        pytest.skip("needs Chromium on the path: apt-get install chromium")
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Site)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=ARGUMENTS)
        yield browser, f"http://127.0.0.1:{server.server_port}/"
        browser.close()
    server.shutdown()
    server.server_close()


@pytest.fixture
def page(chromium):
    browser, address = chromium
    complaints = []
    page = browser.new_context(viewport={"width": 390, "height": 844}).new_page()
    page.set_default_timeout(10_000)
    page.add_init_script(TONES)
    page.on("console", lambda told: complaints.append(told.text) if told.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.goto(address)
    page.locator("body[data-ready]").wait_for()
    yield page
    assert complaints == []
    page.context.close()


def events(page):
    return json.loads(page.evaluate("localStorage.getItem('events') ?? '[]'"))


def kinds_of(page):
    return [each["kind"] for each in events(page)]


def press(page, bar):
    for figure in str(bar):
        page.locator(f"[data-key='{figure}']").click()
    page.locator("[data-pad-act]").click()


def goes_in(page, name, bar, team="1"):
    page.locator("[data-at=people] button", has_text=name).click()
    page.locator(f"[name=team][value='{team}']").check()
    press(page, bar)


def type_figure(page, label, figure):
    page.locator("summary", has_text="Figures of the board").click()
    page.get_by_label(label).fill(figure)
    page.get_by_role("button", name="Use these figures").click()


def with_air(page):
    """As most tests begin: the volume of the cylinders is typed."""
    type_figure(page, "Volume of one cylinder", "6,8")
    expect(page.locator("[data-at=unknown]")).to_be_hidden()
    page.locator("summary", has_text="Figures of the board").click()


expect = sync_api.expect


def test_what_is_not_known_is_typed_and_its_origin_told(page):
    expect(page.locator("[data-at=unknown]")).to_contain_text("volume of one cylinder")
    type_figure(page, "Volume of one cylinder", "600")
    wrong = page.locator("[data-at=figures-error]")
    expect(wrong).to_contain_text("600 was given; 1 to 50 L is allowed")
    expect(page.get_by_label("Volume of one cylinder")).to_have_value("600")
    assert events(page) == []
    page.get_by_label("Volume of one cylinder").fill("6,8")
    page.get_by_role("button", name="Use these figures").click()
    expect(page.locator("[data-figure=cylinder_l] .help")).to_contain_text(
        "6.8 L, typed on the board"
    )
    expect(page.locator("[data-figure=l_min] .help")).to_contain_text(
        "60 L/min, stated in the plan"
    )
    assert events(page)[0]["value"] == {"cylinder_l": "6.8"}


def test_the_alarm_is_seen_read_out_and_sounds_again_until_it_is_over(page):
    with_air(page)
    expect(page.locator("[data-at=sound-state]")).to_contain_text("Sound is off")
    page.get_by_role("button", name="Switch the sound on").click()
    expect(page.locator("[data-at=sound-state]")).to_have_text("Sound is on.")
    tried = page.evaluate("tones")
    assert tried > 0
    goes_in(page, "The lead", 300)
    goes_in(page, "Learner 1", 240)
    expect(page.locator("[data-at=alarm]")).to_be_hidden()
    row = page.locator(".wearer", has_text="The lead")
    expect(row).to_contain_text("goes by Learner 1, whose air is least")
    page.evaluate("pass(7)")
    alarm = page.locator("[role=alert][data-at=alarm-words]")
    expect(alarm).to_have_text("turn round now: The lead, Learner 1")
    expect(row.locator("[data-row=word]")).to_have_text("turn round now")
    assert page.evaluate("tones") > tried
    page.get_by_role("button", name="Heard").click()
    expect(page.locator("#entry-board")).to_have_attribute("data-ringing", "no")
    expect(alarm).to_be_visible()
    page.evaluate("pass(1.1)")
    expect(page.locator("#entry-board")).to_have_attribute("data-ringing", "yes")
    for name in ("The lead", "Learner 1"):
        page.locator(".wearer", has_text=name).first.get_by_role("button", name="Out").click()
        press(page, 180)
    expect(page.locator("[data-at=alarm]")).to_be_hidden()
    expect(page.locator("[data-at=count]")).to_have_text("Nobody is counted in")


def test_over_the_cap_nobody_is_recorded(page):
    with_air(page)
    goes_in(page, "The lead", 300)
    goes_in(page, "Learner 1", 300)
    goes_in(page, "Learner 2", 300)
    refused = page.locator("[data-pad-error]")
    expect(refused).to_have_text("2 are inside and at most 2 may be. Count somebody out first.")
    assert kinds_of(page).count("person_in") == 2


@pytest.mark.parametrize("bar", ["", "351", "999"])
def test_a_pressure_that_cannot_be_is_refused(page, bar):
    goes_in(page, "The lead", bar)
    expect(page.locator("[data-pad-error]")).to_contain_text("Give the pressure on the gauge")
    assert events(page) == []


def test_nobody_goes_in_on_the_reserve(page):
    goes_in(page, "The lead", 55)
    expect(page.locator("[data-pad-error]")).to_contain_text("at or under the whistle at 55 bar")
    assert events(page) == []


def test_nobody_is_counted_in_twice_under_a_code(page):
    for _each in range(2):
        page.get_by_label("Somebody else").fill("  T-04 ")
        page.get_by_role("button", name="Goes in").click()
        press(page, 300)
    expect(page.locator("[data-pad-error]")).to_have_text("T-04 is counted in already.")
    assert kinds_of(page) == ["person_in"]
    expect(page.locator("[data-at=doubts]")).to_contain_text("T-04 is on no list of this burn.")


@pytest.mark.parametrize("code", ["", "   ", "x" * 41])
def test_a_code_must_be_typed(page, code):
    page.get_by_label("Somebody else").fill(code)
    page.get_by_role("button", name="Goes in").click()
    expect(page.locator("[data-at=complaint]")).to_contain_text("Type a name or a code")


def test_a_reload_restores_the_board_and_what_was_struck_out_stays_out(page):
    with_air(page)
    goes_in(page, "The lead", 300)
    goes_in(page, "Learner 1", 300)
    page.locator("summary", has_text="What was recorded last").click()
    line = page.locator("[data-at=recent] li", has_text="Learner 1")
    line.get_by_role("button", name="Strike out").click()
    assert "undo" not in kinds_of(page)
    line.get_by_role("button", name="Tap again").click()
    expect(page.locator(".wearer")).to_have_count(1)
    page.reload()
    expect(page.locator(".wearer [data-row=name]")).to_have_text(["The lead"])
    expect(page.locator(".wearer [data-row=facts]")).to_contain_text("300 bar read")


def test_a_corrected_pressure_counts_from_the_entry(page):
    with_air(page)
    goes_in(page, "The lead", 300)
    page.locator("summary", has_text="What was recorded last").click()
    page.locator("[data-at=recent] li", has_text="The lead").get_by_role(
        "button", name="Correct"
    ).click()
    press(page, 200)
    expect(page.locator(".wearer [data-row=facts]")).to_contain_text("200 bar read")
    first, last = [each for each in events(page) if each["kind"] == "person_in"]
    assert last["corrects"] == first["id"]


def test_somebody_comes_out_whose_gauge_was_not_read(page):
    goes_in(page, "The lead", 300)
    page.locator(".wearer").get_by_role("button", name="Out").click()
    page.get_by_role("button", name="Out, gauge not read").click()
    expect(page.locator(".wearer")).to_have_count(0)
    assert events(page)[-1]["value"] == {"who": "lead000001"}


def test_a_roll_call_names_who_did_not_answer_and_who_is_on_no_list(page):
    goes_in(page, "The lead", 300)
    goes_in(page, "Learner 1", 300)
    page.get_by_role("button", name="Roll call").click()
    page.locator(".roll").get_by_label("The lead").check()
    page.get_by_label("Missing and not on the board").fill("T-09")
    page.get_by_role("button", name="2 missing").click()
    alarm = page.locator("[role=alert][data-at=alarm-words]")
    expect(alarm).to_have_text("missing at the roll call: Learner 1, T-09")
    assert events(page)[-1]["value"] == {"missing": ["learner0001", "T-09"]}
    page.get_by_role("button", name="Roll call").click()
    for box in page.locator(".roll input[type=checkbox]").all():
        box.check()
    page.get_by_role("button", name="Everybody answered").click()
    expect(page.locator("[data-at=alarm]")).to_be_hidden()


def test_what_could_not_be_kept_is_said_and_not_shown(page):
    page.evaluate("document.body.dataset.full = 'yes'")
    goes_in(page, "The lead", 300)
    expect(page.locator("[data-pad-error]")).to_contain_text("Not recorded")
    expect(page.locator(".wearer")).to_have_count(0)


def test_targets_are_large_enough_for_gloves(page):
    goes_in(page, "The lead", 300)
    page.locator(".wearer").get_by_role("button", name="Pressure").click()
    for button in page.locator("#entry-board button:visible").all():
        box = button.bounding_box()
        assert box["height"] >= 55.9, button.inner_text()
        assert box["width"] >= 55.9, button.inner_text()
