"""The evidence of a unit: what an auditor takes away to check its history elsewhere.

It belongs to a unit, not to the log as a whole, because the history of a unit is what is asked
for; and the reports stand above the log, which knows no documents. The export in it covers the
whole log up to the head, for a part of a tree proves nothing by itself: entries of other grounds
are in it by their hash alone.
"""

from __future__ import annotations

import datetime as dt
import zipfile
from collections.abc import Buffer, Iterator
from dataclasses import dataclass
from itertools import batched
from pathlib import Path

from django.utils.translation import gettext as _

from facility.sites.models import Site
from records.audit import checker
from records.audit.notes import HeadNote
from records.audit.selectors import lines_for

AT_ONCE = 500


class _Pipe:
    """A file that can only be written to; what was written is taken away piece by piece."""

    def __init__(self) -> None:
        self._pieces: list[bytes] = []

    def write(self, data: Buffer, /) -> int:
        self._pieces.append(bytes(data))
        return len(self._pieces[-1])

    def flush(self) -> None:
        """Nothing waits here."""

    def close(self) -> None:
        """What was written can still be taken."""

    def taken(self) -> bytes:
        data, self._pieces = b"".join(self._pieces), []
        return data


@dataclass(frozen=True, slots=True)
class Evidence:
    """A log export, the head that covers it, the checker, and the document it is about."""

    ground: Site
    head: HeadNote
    document_name: str
    document: bytes

    def stream(self) -> Iterator[bytes]:
        """The zip piece by piece; the log is never held as a whole."""
        pipe = _Pipe()
        with zipfile.ZipFile(pipe, "w", zipfile.ZIP_DEFLATED) as bundle:
            bundle.writestr("README.txt", self._readme())
            bundle.writestr("head.txt", self.head.text)
            bundle.writestr("checker.py", Path(checker.__file__).read_bytes())
            bundle.writestr(self.document_name, self.document)
            yield pipe.taken()
            with bundle.open(self._entry_of_the_log(), "w", force_zip64=True) as log:
                for lines in batched(lines_for(self.ground, self.head.size), AT_ONCE):
                    log.write("".join(f"{line}\n" for line in lines).encode())
                    yield pipe.taken()
        yield pipe.taken()

    def _entry_of_the_log(self) -> zipfile.ZipInfo:
        at = self.head.at or dt.datetime(
            1980, 1, 1, tzinfo=dt.UTC
        )  # the oldest that a zip can name
        log = zipfile.ZipInfo("log.jsonl", at.timetuple()[:6])
        log.compress_type, log.external_attr = zipfile.ZIP_DEFLATED, 0o600 << 16
        return log

    def _readme(self) -> str:
        return _(
            """Evidence of {ground}

{document}   the history of the unit, as a document
log.jsonl    every entry of the log up to the head, one a line, in order; text that
             people typed is in it as a salted hash, entries of other grounds as
             their leaf hash alone
head.txt     the head of the log that covers both
checker.py   checks the one against the other; needs Python and nothing else

SHA-256 of checker.py:
{sha256}

Compare this hash with one from another source, read the file (it is short), then run

    python checker.py log.jsonl head.txt

and give it every head note kept elsewhere as well: older printed pages, mails, the
paper log of the site. A head says nothing about entries that are newer than it, and
none can say whether what was written was true.
"""
        ).format(ground=self.ground.name, document=self.document_name, sha256=checker.own_sha256())
