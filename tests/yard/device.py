"""A tablet of the yard without its screen: spells events as the page does."""

from __future__ import annotations

import datetime as dt
import uuid
from dataclasses import dataclass, field
from typing import Any

from facility.yard.event import sha256_of, spelt


def ms(when: dt.datetime) -> int:
    return int(when.timestamp() * 1000)


@dataclass
class Tablet:
    """Events of one device in a chain; ``anchored`` when it was told the time."""

    device: str
    burn: str
    person: str
    anchored: dt.datetime
    boot: str = "boot-1"
    seq: int = 0
    prev: str = ""
    made: list[str] = field(default_factory=list)

    def told(
        self, kind: str, value: Any = None, *, at: dt.datetime, **changes: Any
    ) -> dict[str, Any]:
        """What the next event says; changes nothing."""
        start = ms(self.anchored) - 60_000  # the page started a minute before
        anchor = {"server": ms(self.anchored), "wall": ms(self.anchored), "mono": 60_000, "rtt": 80,
                  "boot": self.boot}  # fmt: skip
        return {
            "id": str(uuid.uuid4()), "device": self.device, "device_seq": self.seq + 1,
            "burn": self.burn, "kind": kind, "value": {} if value is None else value, "caller": "",
            "wall": ms(at), "mono": ms(at) - start, "boot": self.boot, "anchor": anchor,
            "prev": self.prev, "person": self.person, "corrects": "", **changes,
        }  # fmt: skip

    def tap(self, kind: str, value: Any = None, *, at: dt.datetime, **changes: Any) -> str:
        """The text of the next event, which becomes the newest of the chain."""
        text = spelt(self.told(kind, value, at=at, **changes))
        self.seq, self.prev = self.seq + 1, sha256_of(text)
        self.made.append(text)
        return text
