"""The permission tables laid out as a matrix, so that nobody writes it down by hand."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from facility.people.permissions import ACTS, ADDRESSES, SIGNED, Address, Role

ROLES = [role for role in Role if role != Role.LEARNER]
MAY, SIGNS, REFUSED = "●", "S", "–"


@dataclass(frozen=True, slots=True)
class Row:
    """What one act or address answers each of ``ROLES``."""

    name: str
    label: str
    marks: tuple[str, ...]


def acts() -> list[Row]:
    """Every act: may (●), with signature (S), refused and logged (–)."""
    return [
        Row(name, str(act.label), tuple(_mark(name, role in act.roles) for role in ROLES))
        for name, act in ACTS.items()
    ]


def _mark(act: str, may: bool) -> str:
    if not may:
        return REFUSED
    return SIGNS if act in SIGNED else MAY


def addresses() -> list[Row]:
    """Every address: which of GET and POST it answers each role."""
    return [
        Row(name, "", tuple(_methods(address, role) for role in ROLES))
        for name, address in ADDRESSES.items()
    ]


def _methods(address: Address, role: Role) -> str:
    open_to_it = [
        method for method in ("GET", "POST") if role in (address.roles(method) or frozenset())
    ]
    return " ".join(open_to_it) or REFUSED


def as_markdown() -> Iterator[str]:
    """Both tables, line by line."""
    for title, rows in (("act", acts()), ("address", addresses())):
        names = " | ".join(str(role.label) for role in ROLES)
        yield f"| {title} | {names} |"
        yield "|---" * (len(ROLES) + 1) + "|"
        yield from (f"| `{row.name}` | {' | '.join(row.marks)} |" for row in rows)
        yield ""
