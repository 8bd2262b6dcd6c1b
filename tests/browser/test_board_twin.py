"""The board in the browser says what the board on the server says, case by case."""

import functools
import http.server
import json
import random
import shutil
import threading
from dataclasses import asdict
from pathlib import Path

import pytest

from facility.calc.constants import AIR_FILL_FACTORS, AIR_FILL_PRESSURES
from facility.yard.air_board import MINUTE, Numbers, Told, board, minutes_by_person, refusal
from tests.browser.conftest import ARGUMENTS, sync_api
from tests.yard.test_air_board import CASES, START, numbers_in, told_in

pytestmark = pytest.mark.browser

STATIC = Path(__file__).parents[2] / "records" / "yard" / "static" / "yard"
FILL = {"pressures": AIR_FILL_PRESSURES, "factors": AIR_FILL_FACTORS}
SCRIPT = """async (asked) => {
  const { board, minutesByPerson, refusal } = await import("/board.js");
  return asked.map(({ events, numbers, at, fill, people, refusals }) => {
    const now = board(events, numbers, at, fill, people);
    const refused = refusals.map((value) => refusal(now, value) ?? ["", {}]);
    return { ...now, minutes: minutesByPerson(now), refused };
  });
}"""


class Quiet(http.server.SimpleHTTPRequestHandler):
    def log_message(self, *given):
        pass


@pytest.fixture(scope="module")
def ask():
    """Has the modules work out boards in a real browser; they are served as they lie."""
    path = shutil.which("chromium")
    if path is None:
        pytest.skip("needs Chromium on the path: apt-get install chromium")
    handler = functools.partial(Quiet, directory=STATIC)
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=ARGUMENTS)
        page = browser.new_page()
        page.goto(f"http://127.0.0.1:{server.server_port}/board.js")
        yield lambda asked: page.evaluate(SCRIPT, asked)
        browser.close()
    server.shutdown()
    server.server_close()


def asked_of(events, numbers, at, people=None, refusals=()):
    given = {name: value for name, value in asdict(numbers).items() if value is not None}
    return {
        "events": [asdict(each) for each in events], "numbers": given, "at": at, "fill": FILL,
        "people": people, "refusals": list(refusals),
    }  # fmt: skip


def answer_of(asked):
    """What the server says, in the shape of JSON."""
    events = [Told(**each) for each in asked["events"]]
    made = board(events, Numbers(**asked["numbers"]), asked["at"], asked["people"])
    numbers = {name: value for name, value in asdict(made.numbers).items() if value is not None}
    refused = [refusal(made, value) for value in asked["refusals"]]
    said = {
        **asdict(made), "numbers": numbers, "minutes": minutes_by_person(made), "refused": refused,
    }  # fmt: skip
    return json.loads(json.dumps(said))


def same(one, other, where=""):
    """Alike, moments to 2 ms and figures to a millionth; what differs is named."""
    if isinstance(one, dict):
        assert one.keys() == other.keys(), where
        for key in one:
            same(one[key], other[key], f"{where}.{key}")
    elif isinstance(one, list):
        assert len(one) == len(other), where
        for place, (left, right) in enumerate(zip(one, other, strict=True)):
            same(left, right, f"{where}[{place}]")
    elif isinstance(one, int | float) and not isinstance(one, bool):
        slack = 2 if where.endswith("_at") else 1e-6 * max(1, abs(one))
        assert other == pytest.approx(one, abs=slack), where
    else:
        assert one == other, where


def test_every_case_of_the_table_comes_out_alike(ask):
    asked = [
        asked_of(
            told_in(case), numbers_in(case), START + round(case["at"] * MINUTE), case.get("people"),
            [value for value, _code in case["expect"].get("refusals", [])],
        )
        for case in CASES
    ]  # fmt: skip
    for case, given, said in zip(CASES, asked, ask(asked), strict=True):
        same(answer_of(given), said, case["name"])


def test_days_made_by_chance_come_out_alike(ask):
    """Two hundred days of two tablets with every kind of muddle, the same each time."""
    chance = random.Random(8)
    asked = [_some_day(chance) for _each in range(200)]
    for place, (given, said) in enumerate(zip(asked, ask(asked), strict=True)):
        same(answer_of(given), said, f"day {place}")


KIND = ("person_in", "person_in", "pressure", "pressure", "person_out", "roll_call", "air_numbers", "undo")  # fmt: skip


def _some_day(chance):
    events = []
    for place in range(chance.randrange(30)):
        kind = chance.choice(KIND)
        value = {
            "person_in": {"who": chance.choice("ABCD"), "name": "somebody", "bar": chance.randint(0, 350), "team": chance.choice(["", "1"])},
            "pressure": {"who": chance.choice("ABCD"), "bar": chance.randint(0, 350)},
            "person_out": {"who": chance.choice("ABCD"), "bar": chance.randint(0, 350)},
            "roll_call": {"missing": chance.sample("ABCD", chance.randrange(3))},
            "air_numbers": {chance.choice(["cylinder_l", "l_min", "cap", "whistle_bar", "check_min"]): str(chance.randint(1, 70))},
            "undo": {},
        }[kind]  # fmt: skip
        events.append({
            "id": f"e{place}", "kind": kind, "value": value,
            "at": START + chance.randrange(-5 * MINUTE, 40 * MINUTE),
            "device": chance.choice(["one", "two"]), "seq": place,
            "corrects": f"e{chance.randrange(30)}" if kind == "undo" or chance.random() < 0.1 else "",
        })  # fmt: skip
    numbers = Numbers(
        chance.choice([None, 6, 6.8]), chance.choice([1, 2]), 300, 55, chance.choice([40, 62.5]),
        chance.choice([1, 2]), 90, chance.choice([2, 4]), 5, 20,
    )  # fmt: skip
    given = asked_of(
        [], numbers, START + 30 * MINUTE, {"A": "Ana", "B": "Ben"}, [{"who": "E", "bar": 200}]
    )
    return {**given, "events": events}
