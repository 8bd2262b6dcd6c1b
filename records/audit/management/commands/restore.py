"""Put a backup back where there is no database yet.

manage.py restore FILE [--head HEAD.txt ...] [--erasures FILE] [--accept-loss]

Checks the file against its manifest, the log against its tree and the heads given, and forgets
again whoever was erased since. Afterwards nothing is recorded until an administrator or burn
manager signs at /audit/restored/. Exits 2, and leaves nothing behind, when it is refused.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from facility.refusals import Refused
from records.audit.backups import restore
from records.audit.erasing import orders_file
from records.audit.notes import HeadNote, NotANote, read_note
from records.audit.showing import shown_on


class Command(BaseCommand):
    help = "Put a backup back into an empty place."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--head", action="append", default=[], metavar="FILE")
        parser.add_argument(
            "--erasures", type=Path, help="orders to erase, kept beside the database"
        )
        parser.add_argument(
            "--accept-loss", action="store_true",
            help="heads newer than the backup are known, and what is not in it is lost",
        )  # fmt: skip

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            back = restore(
                options["file"], shown_on(self.stderr), heads=[_head(p) for p in options["head"]],
                accept_loss=options["accept_loss"], orders=_orders(options["erasures"]),
            )  # fmt: skip
        except Refused as refused:
            named = f"{type(refused).__name__}: {refused.sentence}"
            raise CommandError(named, returncode=2) from None
        self.stdout.write(
            f"{back.manifest.note.size} entries are back, as of {back.manifest.written_at}; "
            f"{len(back.erased)} people were forgotten again. Now somebody signs at /audit/restored/."
        )


def _head(path: str) -> HeadNote:
    try:
        return read_note(Path(path).read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, NotANote) as error:
        raise CommandError(f"{path}: {error}", returncode=2) from None


def _orders(path: Path | None) -> str:
    """The list named, which has to be there, or that of the data folder if there is one."""
    try:
        if path is not None:
            return path.read_text(encoding="utf-8")
        return orders_file().read_text(encoding="utf-8") if orders_file().exists() else ""
    except (OSError, UnicodeDecodeError) as error:
        raise CommandError(f"{path}: {error}", returncode=2) from None
