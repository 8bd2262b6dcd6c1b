"""Entry control of the demo burns: what a tablet at the unit would have sent of who went in."""

from __future__ import annotations

import datetime as dt
import random
import uuid
from collections.abc import Iterator, Mapping
from typing import Any

from facility.kinds import INSIDE
from facility.people.models import Person
from facility.yard.event import FIRST, sha256_of, spelt
from records.burns.models import Burn
from records.yard.models import OFFICE
from records.yard.services import take_events, take_seat

BOOT = "demo"
SETS = {"cylinder_l": "6.8", "nominal_bar": 300, "l_min": 60, "check_min": 10}
BREATHED = 9  # bar a minute of hot work from 6.8 L, roughly 60 L/min


def enter_people(burn: Burn, lead: Person, lit: dt.datetime, chance: random.Random) -> None:
    """Everybody whose duty is inside: in before the fire is lit, read once, out within 20 min."""
    device = f"{OFFICE}{burn.public_id}"
    take_seat(burn.site, device, by=lead, at=lit)
    texts, before = [], FIRST
    for number, (kind, value, minute) in enumerate(_told(burn, chance), start=1):
        text = _spelt(burn, lead, device, lit, number, kind, value, minute, before)
        before = sha256_of(text)
        texts.append(text)
    taken = take_events(burn.site, texts, by=lead, device=device, at=lit + dt.timedelta(minutes=22))
    assert {str(each.found) for each in taken} == {"stored"}


def _told(burn: Burn, chance: random.Random) -> Iterator[tuple[str, dict[str, Any], float]]:
    yield "air_numbers", SETS, -4
    wearers = list(dict.fromkeys(
        place.person.public_id for place in burn.attendance.select_related("person")
        if place.duty in INSIDE
    ))  # fmt: skip
    filled = {who: chance.randint(285, 300) for who in wearers}
    for place, who in enumerate(wearers):
        yield "person_in", {"who": who, "bar": filled[who], "team": "1"}, -2 + place * 0.2
    for place, who in enumerate(wearers):
        yield "pressure", {"who": who, "bar": filled[who] - 7 * BREATHED}, 5 + place * 0.2
    last = chance.uniform(12, 16)
    for place, who in enumerate(wearers):
        bar = filled[who] - round((last + 2) * BREATHED)
        yield "person_out", {"who": who, "bar": bar}, last + place * 0.2
    yield "roll_call", {"missing": []}, last + 4


def _spelt(
    burn: Burn, lead: Person, device: str, lit: dt.datetime, number: int, kind: str,
    value: Mapping[str, Any], minute: float, before: str,
) -> str:  # fmt: skip
    started = int(lit.timestamp() * 1000) - 600_000  # the page was opened ten minutes before
    at = int(lit.timestamp() * 1000) + round(minute * 60_000)
    anchor = {"server": started, "wall": started, "mono": 0, "rtt": 60, "boot": BOOT}
    return spelt(
        {
            "id": str(uuid.uuid4()), "device": device, "device_seq": number, "burn": burn.public_id,
            "kind": kind, "value": dict(value), "caller": "", "wall": at, "mono": at - started,
            "boot": BOOT, "anchor": anchor, "prev": before, "person": lead.public_id,
            "corrects": "",
        }
    )  # fmt: skip
