"""Entry control of the demo burns: who went in, as it was tapped at the door of the unit."""

from __future__ import annotations

import random
from collections.abc import Iterator
from typing import Any

from facility.kinds import INSIDE
from records.burns.models import Burn

SETS = {"cylinder_l": "6.8", "nominal_bar": 300, "l_min": 60, "check_min": 10}
BREATHED = 9  # bar a minute of hot work from 6.8 L, roughly 60 L/min


def went_in(burn: Burn, chance: random.Random) -> Iterator[tuple[float, str, dict[str, Any]]]:
    """Minute, kind and value: in as the fire is lit, read once, out within 20 min, a roll call."""
    yield 0, "air_numbers", SETS
    places = burn.attendance.select_related("person").order_by("id")
    inside = dict.fromkeys(each.person.public_id for each in places if each.duty in INSIDE)
    filled = {who: chance.randint(285, 300) for who in inside}
    for place, who in enumerate(filled):
        yield 0.3 + place * 0.1, "person_in", {"who": who, "bar": filled[who], "team": "1"}
    for place, who in enumerate(filled):
        bar = filled[who] - 6 * BREATHED
        yield 6 + place * 0.1, "pressure", {"who": who, "bar": bar}
    last = chance.uniform(13, 15)
    for place, who in enumerate(filled):
        bar = filled[who] - round(last * BREATHED)
        yield last + place * 0.1, "person_out", {"who": who, "bar": bar}
    yield last + 3, "roll_call", {"missing": []}
