"""What one standard asks otherwise than another: rows, charts, and which way each limit went.

Pure: it compares plain values, as ``selectors.row_values`` and ``chart_values`` give them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Any

from facility.calc import units

Row = Mapping[str, Any]


class Turn(StrEnum):
    """Which way a change went; neither also where it cannot be told."""

    STRICTER = "stricter"
    LOOSER = "looser"
    NEITHER = "neither"


@dataclass(frozen=True, slots=True)
class FieldChange:
    field: str
    old: Any
    new: Any
    turn: Turn


@dataclass(frozen=True, slots=True)
class Change:
    """A row or a chart that both have. ``key`` is its code, or the unit's name."""

    key: str
    old: Row
    new: Row
    fields: tuple[FieldChange, ...]


@dataclass(frozen=True, slots=True)
class Compared:
    """Rows or charts added, dropped and changed. A row switched on is added, off is dropped."""

    added: tuple[Row, ...] = ()
    dropped: tuple[Row, ...] = ()
    changed: tuple[Change, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.added or self.dropped or self.changed)


@dataclass(frozen=True, slots=True)
class Difference:
    rows: Compared
    charts: Compared
    items: Compared = Compared()

    def __bool__(self) -> bool:
        return bool(self.rows or self.charts or self.items)


def compare(
    older: Sequence[Row], newer: Sequence[Row], older_charts: Sequence[Row] = (),
    newer_charts: Sequence[Row] = (), older_items: Sequence[Row] = (),
    newer_items: Sequence[Row] = (),
) -> Difference:  # fmt: skip
    """Everything that differs between two standards, in the order of the codes and unit names."""
    return Difference(
        _compared(older, newer, "code", _row_turn),
        _compared(older_charts, newer_charts, "unit", _chart_turn),
        _compared(older_items, newer_items, "code", _item_turn),
    )


def _compared(older: Sequence[Row], newer: Sequence[Row], key: str, turn_of: Any) -> Compared:
    old, new = ({row[key]: row for row in rows} for rows in (older, newer))
    both = [code for code in sorted(old) if code in new and _is_on(old[code]) == _is_on(new[code])]
    changes = [_change(code, old[code], new[code], turn_of) for code in both]
    return Compared(
        added=tuple(new[code] for code in sorted(new) if _asked(new, code) > _asked(old, code)),
        dropped=tuple(old[code] for code in sorted(old) if _asked(old, code) > _asked(new, code)),
        changed=tuple(change for change in changes if change.fields),
    )


def _is_on(row: Row) -> bool:
    return bool(row.get("on", True))


def _asked(rows: Mapping[str, Row], code: str) -> bool:
    return code in rows and _is_on(rows[code])


def _change(key: str, old: Row, new: Row, turn_of: Any) -> Change:
    """A row that is off asks nothing before or after, so that it turns neither way."""
    fields = [name for name in (*old, *(set(new) - set(old))) if old.get(name) != new.get(name)]
    return Change(key, old, new, tuple(
        FieldChange(name, old.get(name), new.get(name),
                    turn_of(name, old, new) if _is_on(new) else Turn.NEITHER)
        for name in fields
    ))  # fmt: skip


LIMITS = ("limit", "limit_high", "limit_text", "unit")
NARROWED = ("exercises", "unit_kinds", "duties", "products", "asked_at")
SEVERITIES = ("note", "caution", "block")
LOWER, HIGHER = -1, 1  # which of them is the stricter


def _row_turn(field: str, old: Row, new: Row) -> Turn:
    if field in LIMITS:
        return _limit_turn(old, new)
    if field in NARROWED:
        return _narrowing_turn(old[field], new[field])
    if field == "severity":
        before, after = SEVERITIES.index(old[field]), SEVERITIES.index(new[field])
        return _by_size(before, after, HIGHER)
    if field == "two_people":
        return _by_size(old[field], new[field], HIGHER)
    if field == "waivable_by" and not (old[field] and new[field]):  # empty: nobody may
        return Turn.LOOSER if new[field] else Turn.STRICTER
    return Turn.NEITHER


def _by_size(old: Any, new: Any, stricter: int) -> Turn:
    if old == new:
        return Turn.NEITHER
    return Turn.STRICTER if (new > old) == (stricter == HIGHER) else Turn.LOOSER


def _limit_turn(old: Row, new: Row) -> Turn:
    """One answer for all limits of a row, in the older one's unit."""
    if any(old.get(name) != new.get(name) for name in ("fact", "comparison", "window")):
        return Turn.NEITHER
    compared = new["comparison"]
    if compared == "one_of":
        return _inside(_words(old["limit_text"]), _words(new["limit_text"]))
    if compared == "before":
        return _day_turn(old["limit_text"], new["limit_text"])
    lows, highs = _pair("limit", old, new), _pair("limit_high", old, new)
    if lows is None:
        return Turn.NEITHER
    if compared == "between":
        return _range_turn(lows, highs)
    ways = {"<=": LOWER, "within": LOWER, ">=": HIGHER}
    return _by_size(*lows, ways[compared]) if compared in ways else Turn.NEITHER


def _pair(name: str, old: Row, new: Row) -> tuple[float, float] | None:
    """The old and the new number in one unit; None where either is open or cannot be told."""
    if old.get(name) is None or new.get(name) is None:
        return None
    value, unit, own = float(new[name]), new.get("unit", ""), old.get("unit", "")
    try:
        return float(old[name]), value if unit == own else units.convert(value, unit, own)
    except Exception:  # pint raises many kinds, for an unknown unit as for a wrong dimension
        return None


def _range_turn(lows: tuple[float, float], highs: tuple[float, float] | None) -> Turn:
    if highs is None:
        return Turn.NEITHER
    turns = {_by_size(*lows, HIGHER), _by_size(*highs, LOWER)} - {Turn.NEITHER}
    return turns.pop() if len(turns) == 1 else Turn.NEITHER


def _words(text: str) -> frozenset[str]:
    return frozenset(word.strip() for word in text.split(",") if word.strip())


def _inside(old: frozenset[str], new: frozenset[str]) -> Turn:
    """Fewer words allowed are stricter; none at all means that the ground has not decided."""
    if old == new or not old or not new:
        return Turn.NEITHER
    if new < old:
        return Turn.STRICTER
    return Turn.LOOSER if new > old else Turn.NEITHER


def _day_turn(old: str, new: str) -> Turn:
    """An earlier day is stricter; a day of every year and a day of one year do not compare."""
    return _by_size(old, new, LOWER) if len(old) == len(new) else Turn.NEITHER


def _narrowing_turn(old: str, new: str) -> Turn:
    """A row asked of fewer cases is looser; an empty list means all of them."""
    before, after = set(old.split()), set(new.split())
    if before == after:
        return Turn.NEITHER
    if not before or (after and after < before):
        return Turn.LOOSER
    return Turn.STRICTER if not after or after > before else Turn.NEITHER


def _chart_turn(field: str, old: Row, new: Row) -> Turn:
    if field == "caps_dry_kg":
        return _caps_turn(old[field], new[field])
    ways = {"burns_before_cooling": LOWER, "cooling_min": HIGHER, "wait_min": HIGHER}
    return _by_size(old[field], new[field], ways[field]) if field in ways else Turn.NEITHER


def _item_turn(field: str, old: Row, new: Row) -> Turn:
    return _by_size(old[field], new[field], HIGHER) if field == "blocks" else Turn.NEITHER


def _caps_turn(old: Sequence[Decimal], new: Sequence[Decimal]) -> Turn:
    """Burn by burn; a burn of the day without a cap is not allowed at all."""
    length = max(len(old), len(new))
    before, after = ([*caps, *[Decimal(0)] * (length - len(caps))] for caps in (old, new))
    turns = {_by_size(*pair, LOWER) for pair in zip(before, after, strict=True)} - {Turn.NEITHER}
    return turns.pop() if len(turns) == 1 else Turn.NEITHER
