"""Disposing of what an order names: texts of the log, and the bytes of files that were kept.

The entries and the rows stay, with their commitments and hashes; the log can still be checked, and
where something was erased stands by which order. What was disposed of is also kept by key in the
file of orders, so that a backup from before, once restored, loses it again.
"""

from __future__ import annotations

import datetime as dt
import json
import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import batched
from typing import Any

from django.apps import apps
from django.db import models
from django.utils import timezone
from django.utils.dateparse import parse_datetime

from facility.guarded import need_open_door
from records.audit.models import Disclosed, Disposal, DisposedFile, DisposedText, Entry

# Files that can be emptied: their table, the column of the bytes, and the way to the public id.
FILES = {
    "picture": ("records_pictures.PictureData", "kept", "picture__public_id"),
    "loggerfile": ("records_capture.LoggerFile", "original", "public_id"),
}
AT_ONCE = 500  # keys in one query

type Text = tuple[str, str]  # the id of the entry, the place in its body
type File = tuple[str, str]  # its kind, its public id


def texts_about(objs: Iterable[str]) -> dict[str, list[Text]]:
    """The erasable texts of the entries about these things, by thing."""
    found: dict[str, list[Text]] = {}
    for some in batched(objs, AT_ONCE):
        rows = Disclosed.objects.filter(entry__obj__in=some).values_list(
            "entry__obj", "entry__entry_id", "place"
        )
        for obj, entry, place in rows.order_by("entry", "place"):
            found.setdefault(obj, []).append((entry.hex, place))
    return found


def files_left(kind: str, public_ids: Iterable[str]) -> set[str]:
    """Which of these files were not disposed of."""
    wanted = set(public_ids)
    for some in batched(sorted(wanted), AT_ONCE):
        gone = DisposedFile.objects.filter(kind=kind, public_id__in=some)
        wanted -= set(gone.values_list("public_id", flat=True))
    return wanted


def words_of_file(kind: str, public_id: str) -> str:
    """By which order a file was disposed of; empty while it is kept."""
    found = DisposedFile.objects.filter(kind=kind, public_id=public_id)
    row = found.select_related("disposal").first()
    return row.disposal.words if row else ""


def dispose(disposal: Disposal, texts: Sequence[Text], files: Sequence[File]) -> None:
    """Erase these, behind an open door, and keep by which order. What is not there is passed over."""
    need_open_door(Disposal, "dispose")
    disposal.save()
    for some in batched(texts, AT_ONCE):
        _erase_texts(disposal, set(some))
    for kind in FILES:
        keys = sorted(public_id for each, public_id in files if each == kind)
        for some_keys in batched(keys, AT_ONCE):
            _empty(disposal, kind, some_keys)


def _erase_texts(disposal: Disposal, wanted: set[Text]) -> None:
    entries = Entry.objects.filter(entry_id__in={uuid.UUID(entry) for entry, _place in wanted})
    rows = Disclosed.objects.filter(entry__in=entries.values("pk")).values_list(
        "pk", "entry", "entry__entry_id", "place"
    )
    going = [(pk, seq, place) for pk, seq, key, place in rows if (key.hex, place) in wanted]
    DisposedText.objects.bulk_create(
        DisposedText(disposal=disposal, entry_id=int(seq), place=place) for _pk, seq, place in going
    )
    Disclosed.objects.filter(pk__in=[pk for pk, _seq, _place in going]).erase()


def _empty(disposal: Disposal, kind: str, public_ids: Sequence[str]) -> None:
    label, column, path = FILES[kind]
    # past the guard of rows that are never changed: only their bytes go
    rows: Any = models.QuerySet(apps.get_model(label)).filter(**{f"{path}__in": public_ids})
    found = list(rows.values_list("pk", path))
    DisposedFile.objects.bulk_create(
        DisposedFile(disposal=disposal, kind=kind, public_id=public_id) for _pk, public_id in found
    )
    models.QuerySet(apps.get_model(label)).filter(pk__in=[pk for pk, _key in found]).update(
        **{column: b""}
    )


@dataclass(frozen=True, slots=True)
class KeptDisposal:
    """A disposal as its line in the file of orders tells it."""

    disposal: Disposal
    texts: tuple[Text, ...]
    files: tuple[File, ...]


def disposal_line(kept: KeptDisposal) -> str:
    row = kept.disposal
    told = {
        "disposal": row.order, "kind": row.kind, "until": row.until.isoformat(),
        "at": row.at.isoformat(), "by": row.by, "ordered_by": row.ordered_by,
        "texts": kept.texts, "files": kept.files,
    }  # fmt: skip
    return json.dumps(told)


def read_disposal(told: dict[str, Any]) -> KeptDisposal:
    """A disposal as it was kept. ``ValueError`` for anything else."""
    try:
        row = Disposal(
            order=told["disposal"], kind=told["kind"], until=dt.date.fromisoformat(told["until"]),
            at=parse_datetime(told["at"]) or timezone.now(), by=told["by"],
            ordered_by=told["ordered_by"],
        )  # fmt: skip
        texts = tuple((uuid.UUID(entry).hex, str(place)) for entry, place in told["texts"])
        files = tuple((str(kind), str(public_id)) for kind, public_id in told["files"])
    except (KeyError, TypeError, AttributeError) as error:
        raise ValueError(f"no disposal: {error}") from None
    return KeptDisposal(row, texts, files)


def dispose_again(kept: Iterable[KeptDisposal]) -> list[str]:
    """Carry out, behind an open door, what a restored backup still holds; gives the orders."""
    done = set(Disposal.objects.values_list("order", flat=True))
    again = {each.disposal.order: each for each in kept if each.disposal.order not in done}
    for each in again.values():
        dispose(each.disposal, each.texts, each.files)
    return sorted(again)
