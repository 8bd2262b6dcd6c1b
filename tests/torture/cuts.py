"""Act out power cuts: ``python -m tests.torture.cuts FOLDER CUTS ACTS MODE``.

A writer runs with ``preload.c``, which writes down every write, sync, truncation and removal. For
a random moment the disk is then rebuilt as a power cut may leave it: all that was synced, and of
the rest nothing, or a random half of its 512-byte sectors. That file is opened, checked whole and
compared with what had been acknowledged by then. MODE is SQLite's ``synchronous``: FULL, which
the settings use, must lose nothing; NORMAL is the control, and must be seen to lose.

It takes for granted that a sync tells the truth and that a removal lasts at once.
"""

from __future__ import annotations

import json
import os
import random
import shutil
import struct
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

HEADER = struct.Struct("8sqq104s")
SECTOR = 512
DATABASE, WAL, SAID = "db.sqlite3", "db.sqlite3-wal", "acknowledged"


@dataclass
class Disk:
    """One file as the disk holds it: what is safe, and what may or may not be."""

    safe: bytearray = field(default_factory=bytearray)
    loose: list[tuple[int, bytes | None]] = field(default_factory=list)

    def after_cut(self, chance: random.Random, torn: bool) -> bytes:
        """The safe bytes, and when torn a random half of the loose sectors."""
        held = bytearray(self.safe)
        for at, data in self.loose if torn else ():
            if data is None:
                if chance.random() < 0.5:
                    put(held, at, None)
                continue
            for start in range(0, len(data), SECTOR):
                if chance.random() < 0.5:
                    put(held, at + start, data[start : start + SECTOR])
        return bytes(held)

    def sync(self) -> None:
        for at, data in self.loose:
            put(self.safe, at, data)
        self.loose.clear()


def put(held: bytearray, at: int, data: bytes | None) -> None:
    """Write, or without data cut or stretch to a length."""
    end = at + len(data or b"")
    if len(held) < end:
        held.extend(bytes(end - len(held)))
    if data is None:
        del held[at:]
    else:
        held[at:end] = data


def events(trace: Path) -> Iterator[tuple[str, str, int, bytes]]:
    whole, at = trace.read_bytes(), 0
    while at < len(whole):
        kind, offset, length, name = HEADER.unpack_from(whole, at)
        at += HEADER.size
        data = whole[at : at + length]
        at += length
        yield kind.rstrip(b"\0").decode(), name.rstrip(b"\0").decode(), offset, data


def play(disks: dict[str, Disk], event: tuple[str, str, int, bytes]) -> None:
    kind, name, offset, data = event
    if kind == "unlink":
        disks.pop(name, None)
        return
    disk = disks.setdefault(name, Disk())
    if kind == "sync":
        disk.sync()
    else:
        disk.loose.append((offset, data if kind == "write" else None))


def trace_of_writer(folder: Path, acts: int, mode: str) -> Path:
    library, trace = folder / "preload.so", folder.parent / f"{folder.name}.trace"
    source = Path(__file__).with_name("preload.c")
    subprocess.run(["cc", "-shared", "-fPIC", "-O1", "-o", library, source, "-ldl"], check=True)
    watched = {
        "LD_PRELOAD": str(library),
        "TORTURE_FOLDER": f"{folder}/",
        "TORTURE_TRACE": str(trace),
    }
    command = [sys.executable, "-m", "tests.torture.cuts", str(folder), "write", str(acts), mode]
    subprocess.run(command, env={**os.environ, **watched}, check=True)
    return trace


def write(acts: int, mode: str) -> None:
    """The writer, with a WAL so short that it is often written back."""
    from tests.torture import setting

    options = setting.connection.settings_dict["OPTIONS"]
    options["init_command"] += f";PRAGMA synchronous={mode};PRAGMA wal_autocheckpoint=60"
    said = os.open(setting.FOLDER / SAID, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    setting.write_bays(said, 0, acts)
    os._exit(0)  # without closing the database, which would tidy up


def main(folder: Path, count: int, acts: int, mode: str) -> None:
    from tests.torture import setting

    setting.found()
    start = (folder / DATABASE).read_bytes()
    happened = list(events(trace_of_writer(folder, acts, mode)))
    chance = random.Random(512)
    moments = sorted(chance.randrange(len(happened)) for _cut in range(count))
    tally = {"cuts": count, "mode": mode, "events": len(happened), "acts": acts, "corrupt": 0,
             "cuts_that_lost": 0, "most_lost": 0}  # fmt: skip
    disks = {DATABASE: Disk(bytearray(start))}
    image = folder / "image"
    done = 0
    for number, moment in enumerate(moments):
        for event in happened[done:moment]:
            play(disks, event)
        done = moment
        said = disks.get(SAID, Disk())
        text = b"".join(data or b"" for _at, data in said.loose).decode()
        acknowledged = setting.numbers_in(text)
        shutil.rmtree(image, ignore_errors=True)
        image.mkdir()
        for name in (DATABASE, WAL):
            if name in disks:
                (image / name).write_bytes(disks[name].after_cut(chance, number % 2 == 0))
        setting.look_at(image / DATABASE)
        if setting.broken(image / DATABASE):
            tally["corrupt"] += 1
            continue
        lost = len(set(acknowledged) - set(setting.kept()))
        tally["cuts_that_lost"] += lost > 0
        tally["most_lost"] = max(tally["most_lost"], lost)
    print(json.dumps(tally))


if __name__ == "__main__":
    _name, place, what, amount, *rest = sys.argv
    if what == "write":
        write(int(amount), *rest)
    else:
        main(Path(place).resolve(), int(what), int(amount), *rest)
