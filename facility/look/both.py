"""Two versions side by side: what was typed, and what someone else stored meanwhile."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class Side:
    """One thing that both versions say, as text."""

    label: Any
    typed: str
    stored: str

    @property
    def differs(self) -> bool:
        return self.typed != self.stored


def differing_first(sides: Iterable[Side]) -> list[Side]:
    return sorted(sides, key=lambda side: not side.differs)


def lines(texts: Iterable[object]) -> str:
    return "\n".join(map(str, texts)) or "\u2013"
