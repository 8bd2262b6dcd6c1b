"""Forgetting: texts leave the log's erasable rows, the name leaves every row and the file itself.

The entries stay as they are: they hold a person's key and commitments, never the text. What was
erased, and by which order, stays known. An order is also kept in a file beside the database, so
that a backup from before it, once restored, forgets the person again.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.apps import apps
from django.conf import settings
from django.db import connection, models
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.dateparse import parse_datetime

from facility.guarded import need_open_door
from facility.people.models import Person, PersonDetails
from records.audit.disposing import KeptDisposal, read_disposal
from records.audit.models import Disclosed, Entry, ErasedText, Erasure

# Where the program itself writes the name of whom something is about.
NAMED_BY_PROGRAM = {
    ("records_plans", "finding", "about"),
    ("records_plans", "finding", "sentence"),
    ("records_plans", "knownatignition", "facts"),
}
# Signing in and looking is no signature; being refused is none either.
NO_SIGNATURE = frozenset({
    "people.signed_in", "people.password_chosen", "people.units_chosen", "audit.refused", "reports.paper_asked",
    "reports.feed_made", "reports.feed_ended",
})  # fmt: skip


def signed_something(person: Person) -> bool:
    """Whether the person made any entry that a record rests on."""
    return Entry.objects.filter(actor=person.public_id).exclude(act__in=NO_SIGNATURE).exists()


def erase_texts(texts: QuerySet[Disclosed], order: Erasure) -> int:
    """Forget these texts and their salts, and keep by which order."""
    ErasedText.objects.bulk_create(
        ErasedText(erasure=order, entry_id=entry, place=place)
        for entry, place in texts.values_list("entry_id", "place")
    )
    return int(texts.erase())  # type: ignore[attr-defined]


def forget(person: Person, order: Erasure) -> list[str]:
    """Erase what names the person, behind an open door; gives the places where the name still
    stands in words that somebody typed into a record of the work.

    Texts of entries about the person go whole, and so does any text of the log that holds the
    name. Other records are not touched: they were signed as they are.
    """
    need_open_door(Person, "forget")
    name, erased = person.name, f"erased {order.at:%Y-%m-%d}, {person.reference}"
    order.save()
    about = Disclosed.objects.filter(entry__obj=person.named_in_log).values_list("pk", flat=True)
    told = [row.pk for row in _rows_naming(Disclosed._meta.get_field("value"), name)]
    erase_texts(Disclosed.objects.filter(pk__in={*about, *told}), order)
    PersonDetails.objects.filter(person=person).update(name=erased)
    for field in _text_fields():
        if _place(field) in NAMED_BY_PROGRAM:
            _replace(field, name, erased)
    return [*_still_named(name)]


@dataclass(frozen=True, slots=True)
class _Row:
    pk: Any
    text: str


def _rows_naming(field: models.Field[Any, Any], name: str) -> list[_Row]:
    """Rows whose column holds the whole name: Ann Lee does not stand in Joann Leeds."""
    meta, spelt = field.model._meta, _spelt(field, name)
    read = f"CAST({_named(field)} AS text)"
    with connection.cursor() as cursor:
        cursor.execute(
            f"SELECT {meta.pk.column}, {read} FROM {meta.db_table} "
            f"WHERE lower({read}) LIKE lower(%s) ESCAPE '\\'",
            [f"%{connection.ops.prep_for_like_query(spelt)}%"],
        )
        rows = [_Row(*row) for row in cursor.fetchall()]
    return [row for row in rows if _whole(spelt).search(row.text)]


def _named(field: models.Field[Any, Any]) -> str:
    return connection.ops.quote_name(str(field.column))


def _spelt(field: models.Field[Any, Any], name: str) -> str:
    """The name as the column holds it: JSON escapes quotes, and on SQLite whatever is not ASCII."""
    if isinstance(field, models.JSONField):
        return json.dumps(name, ensure_ascii=connection.vendor == "sqlite")[1:-1]
    return json.dumps(name, ensure_ascii=False)[1:-1] if field.model is Disclosed else name


def _whole(name: str) -> re.Pattern[str]:
    return re.compile(rf"(?<!\w){re.escape(name)}(?!\w)", re.I)


def _place(field: models.Field[Any, Any]) -> tuple[str, str, str]:
    meta = field.model._meta
    return meta.app_label, str(meta.model_name), field.name


def _text_fields() -> Iterator[models.Field[Any, Any]]:
    """Every column of ours that may hold a name; codes and choices are too short for one."""
    for model in apps.get_models():
        if model.__module__.split(".")[0] in ("facility", "records"):
            for field in model._meta.concrete_fields:
                if isinstance(field, (models.CharField, models.TextField, models.JSONField)):
                    yield field


def _replace(field: models.Field[Any, Any], name: str, erased: str) -> None:
    meta, spelt = field.model._meta, _spelt(field, name)
    kind = "jsonb" if isinstance(field, models.JSONField) else "text"
    given = f"CAST(%s AS {kind})" if connection.vendor == "postgresql" else "%s"
    with connection.cursor() as cursor:
        cursor.executemany(
            f"UPDATE {meta.db_table} SET {_named(field)} = {given} WHERE {meta.pk.column} = %s",
            [
                (_whole(spelt).sub(lambda _found: erased, row.text), row.pk)
                for row in _rows_naming(field, name)
            ],
        )


def _still_named(name: str) -> Iterator[str]:
    for field in _text_fields():
        if field.model not in (Erasure, Entry):
            for row in _rows_naming(field, name):
                yield f"{field.model._meta.verbose_name} {row.pk}: {field.name}"


def orders_file() -> Path:
    return Path(settings.DATA_DIR) / "erasures.jsonl"


def keep_order(order: Erasure) -> None:
    """Add an order to the file that outlives the database. It names a key and a basis, no name."""
    keep_line(order_line(order))


def keep_line(line: str) -> None:
    with orders_file().open("a", encoding="utf-8") as file:
        file.write(f"{line}\n")


def order_line(order: Erasure) -> str:
    told = {
        "person": order.person,
        "at": order.at.isoformat(),
        "by": order.by,
        "basis": order.basis,
    }
    return json.dumps(told, ensure_ascii=False)


def orders_in(text: str) -> list[Erasure | KeptDisposal]:
    """Orders as they were kept, not yet carried out here. ``ValueError`` for anything else."""
    found: list[Erasure | KeptDisposal] = []
    for line in text.splitlines():
        told = json.loads(line)
        if isinstance(told, dict) and "disposal" in told:
            found.append(read_disposal(told))
            continue
        if not isinstance(told, dict) or not {"person", "at", "by", "basis"} <= told.keys():
            raise ValueError(f"no order to erase: {line}")
        at = parse_datetime(told["at"]) or timezone.now()
        found.append(Erasure(person=told["person"], at=at, by=told["by"], basis=told["basis"]))
    return found


def carry_out_again(orders: list[Erasure]) -> list[str]:
    """Forget, behind an open door, whom a restored backup still names; gives their keys."""
    done = set(Erasure.objects.values_list("person", flat=True))
    people = Person.objects.in_bulk([each.person for each in orders], field_name="public_id")
    again = {each.person: each for each in orders if each.person in people.keys() - done}
    for key, order in again.items():
        forget(people[key], order)
    return sorted(again)


def wipe_free_space() -> None:
    """Make the database let go of what was deleted: in its file, its log of writes, its pages.

    On PostgreSQL dead rows are vacuumed away; its own write-ahead log and the backups made of it
    have to age out.
    """
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            cursor.execute("VACUUM")
            cursor.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        else:
            cursor.execute("VACUUM FULL")
