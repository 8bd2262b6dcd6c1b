"""Which lots are of the same boards: cut from one another, however often. Reading only."""

from __future__ import annotations

from collections.abc import Iterable

from django.db import connection

# Up to the boards as they were delivered, then down to every piece of them. UNION, not UNION ALL:
# a lot is walked through once, so the walk ends whatever stands in the table.
_FAMILY = """
WITH RECURSIVE above(id) AS (
    SELECT id FROM records_stock_lot WHERE id IN ({marks})
    UNION
    SELECT lot.cut_from_id FROM records_stock_lot lot JOIN above ON lot.id = above.id
    WHERE lot.cut_from_id IS NOT NULL
), family(id) AS (
    SELECT id FROM above
    UNION
    SELECT lot.id FROM records_stock_lot lot JOIN family ON lot.cut_from_id = family.id
)
SELECT id FROM {which}
"""


def family_of(lots: Iterable[int]) -> set[int]:
    """The keys of these lots, of what they were cut from, and of all that was cut from those."""
    return _walk(lots, "family")


def origins_of(lots: Iterable[int]) -> set[int]:
    """The keys of these lots and of all that they were cut from."""
    return _walk(lots, "above")


def _walk(lots: Iterable[int], which: str) -> set[int]:
    keys = list(lots)
    if not keys:
        return set()
    sql = _FAMILY.format(marks=", ".join(["%s"] * len(keys)), which=which)
    with connection.cursor() as cursor:
        cursor.execute(sql, keys)
        return {key for (key,) in cursor.fetchall()}
