"""The statements that put an entry into the log: one for the head, one for the entry, one for its
texts if it has any, one to move the head on. Only the door calls this.

They are written out because every act pays for them: by way of the models the same four took
more than three times as long.
"""

from __future__ import annotations

from functools import cache
from typing import Any

from django.db import connection

from facility.guarded import need_open_door
from records.audit import merkle
from records.audit.bodies import Said, Written
from records.audit.models import Disclosed, Entry, LogHead, Tile
from records.audit.standing import refuse_when_closed


def append(said: Said, written: Written) -> int:
    """Number the entry, hash it and let the tree grow by it; gives its number.

    The head is locked last in the transaction of the act.

    Raises
    ------
    ReadOnly
        while the log is closed to this act.
    """
    need_open_door(Entry, "append")
    leaf = merkle.leaf_hash(written.body.encode())
    with connection.cursor() as cursor:
        size, peaks = _locked_head(cursor, said.act)
        _insert(
            cursor, Entry,
            ("seq", "entry_id", "at", "site", "actor", "role", "act", "obj", "once", "body", "leaf"),
            [(size, written.entry_id, said.at, said.site, said.actor, said.role, said.act, said.obj,
              said.once or None, written.body, leaf)],
        )  # fmt: skip
        if texts := [(size, each.place, each.salt, each.value) for each in written.disclosures]:
            _insert(cursor, Disclosed, ("entry", "place", "salt", "value"), texts)
        grown = b"".join(merkle.added(peaks, size, leaf))
        cursor.execute(
            f"UPDATE {LogHead._meta.db_table} SET size = %s, frontier = %s WHERE id = 1",
            (size + 1, grown),
        )
    _fill_tiles(size + 1)
    return int(size)


def _locked_head(cursor: Any, act: str) -> tuple[int, list[bytes]]:
    """Size and frontier, locked until the transaction ends."""
    locked = " FOR UPDATE" if connection.features.has_select_for_update else ""
    read = (
        "SELECT size, frontier, check_failed, restore_unsigned "
        f"FROM {LogHead._meta.db_table} WHERE id = 1{locked}"
    )
    cursor.execute(read)
    if (row := cursor.fetchone()) is None:  # the first entry of all
        LogHead(pk=1).save(force_insert=True)
        return 0, []
    refuse_when_closed(act, check_failed=bool(row[2]), restore_unsigned=bool(row[3]))
    return row[0], merkle.split(bytes(row[1]))


@cache
def _statement(model: Any, names: tuple[str, ...], rows: int) -> str:
    columns = ", ".join(model._meta.get_field(name).column for name in names)
    places = f"({', '.join(['%s'] * len(names))})"
    return f"INSERT INTO {model._meta.db_table} ({columns}) VALUES {', '.join([places] * rows)}"


def _insert(cursor: Any, model: Any, names: tuple[str, ...], rows: list[tuple[Any, ...]]) -> None:
    fields = [model._meta.get_field(name) for name in names]
    values = [
        field.get_db_prep_save(value, connection)
        for row in rows
        for field, value in zip(fields, row, strict=True)
    ]
    cursor.execute(_statement(model, names, len(rows)), values)


def _fill_tiles(size: int) -> None:
    """Write the tiles that this entry completed, from the leaves upwards."""
    level, count = 0, size
    while count and count % merkle.TILE == 0:
        first = count - merkle.TILE
        hashes = (
            Tile.objects.filter(level=level - 1, index__gte=first).order_by("index")
            .values_list("root", flat=True)
            if level
            else Entry.objects.filter(seq__gte=first).order_by("seq").values_list("leaf", flat=True)
        )  # fmt: skip
        data = [bytes(each) for each in hashes]
        count //= merkle.TILE
        Tile(level=level, index=count - 1, root=merkle.root_of(data), data=b"".join(data)).save()
        level += 1
