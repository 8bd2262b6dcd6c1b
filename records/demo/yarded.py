"""Burns of the demo that a tablet in the yard watched: events as its page would have sent them."""

from __future__ import annotations

import datetime as dt
import json
import random
import uuid
from decimal import Decimal
from typing import Any

from facility.people.models import Device, Person
from facility.yard.event import sha256_of, spelt
from records.accounts.tablets import enrol_tablet
from records.burns.models import Burn
from records.demo.entered import went_in
from records.yard.services import take_events, take_seat

MINUTE_MS = 60_000


class YardTablet:
    """One enrolled tablet: numbers and chains its events across burns, as the page does."""

    def __init__(self, device: Device) -> None:
        self.device, self.seq, self.before = device.public_id, 0, ""

    @classmethod
    def enrolled(cls, site: Any, *, by: Person, at: dt.datetime) -> YardTablet:
        device, _key = enrol_tablet(site, name="Yard tablet", by=by, at=at)
        return cls(device)

    def watch(self, burn: Burn, lead: Person, growth: float, high: Decimal) -> None:
        """What a lead instructor calls out, tapped at the door and sent after the fire."""
        caller = burn.attendance.filter(duty="safety").first()
        called = caller.person.public_id if caller else ""
        vent = [each.public_id for each in burn.unit.openings.all()][-1]
        first = next(each.public_id for each in burn.unit.positions.all())
        low = high - Decimal("0.40")
        seen: list[tuple[float, str, dict[str, Any]]] = [
            (0.2, "ignition", {}), (1.0, "alight", {"positions": [first]}),
            (growth, "stage", {"stage": "growth_early"}),
            (growth + 1.0, "smoke", {"colour": "grey", "volume": "medium", "velocity": "slow"}),
            (growth + 1.5, "neutral_plane", {"height_m": str(high)}),
            (growth + 2.4, "flames_ceiling", {}), (growth + 3.0, "neutral_plane", {"height_m": str(low)}),
            (growth + 3.4, "air_track", {"direction": "both", "speed": "moderate", "flow": "pulsing"}),
            (growth + 4.0, "stage", {"stage": "fully_developed"}),
            (growth + 4.5, "water", {"manner": "pulse", "where": "layer"}), (growth + 4.6, "steam", {}),
            (growth + 6.0, "vent_opened", {"opening": vent}),
            (growth + 13.0, "knock_down", {}), (growth + 14.0, "stage", {"stage": "decay"}),
        ]  # fmt: skip
        texts = [self._text(burn, lead, called, *each) for each in seen]
        wrong = json.loads(texts[5])[
            "id"
        ]  # taken back after the fire: it was the boards at the ceiling
        texts.append(self._text(burn, lead, "", growth + 14.5, "undo", {}, wrong))
        at = burn.ignited_at + dt.timedelta(minutes=growth + 15)
        take_seat(burn.site, self.device, by=lead, at=at)
        take_events(burn.site, texts, by=lead, device=self.device, at=at)

    def let_in(self, burn: Burn, lead: Person, chance: random.Random) -> None:
        """Entry control at the door, sent when everybody is out."""
        texts = [self._text(burn, lead, "", *each) for each in went_in(burn, chance)]
        at = burn.ignited_at + dt.timedelta(minutes=20)
        take_events(burn.site, texts, by=lead, device=self.device, at=at)

    def _at(self, burn: Burn, minute: float) -> int:
        return int(burn.ignited_at.timestamp() * 1000 + minute * MINUTE_MS)

    def _text(
        self, burn: Burn, lead: Person, caller: str, minute: float, kind: str,
        value: dict[str, Any], corrects: str = "",
    ) -> str:  # fmt: skip
        at, start = self._at(burn, minute), self._at(burn, -20)
        anchor = {"server": start, "wall": start, "mono": 1_000, "rtt": 90, "boot": burn.public_id}
        self.seq += 1
        text = spelt(
            {
                "id": str(uuid.uuid4()), "device": self.device, "device_seq": self.seq,
                "burn": burn.public_id, "kind": kind, "value": value, "caller": caller,
                "wall": at, "mono": at - start + 1_000, "boot": burn.public_id, "anchor": anchor,
                "prev": self.before, "person": lead.public_id, "corrects": corrects,
            }
        )  # fmt: skip
        self.before = sha256_of(text)
        return text
