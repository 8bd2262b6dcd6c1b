"""The demo ground in a SQLite file of its own, told once for all processes of a test run."""

from __future__ import annotations

import fcntl
import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings

from records.audit import merkle
from records.audit.notes import HeadNote

# The setting and what stands on today's day sheet come with any story; two seasons would take
# two minutes.
WEEKS = 10


def demo_file(factory: pytest.TempPathFactory) -> Path:
    """The last weeks of the demo as ``make demo`` tells it, through the services."""
    shared = factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        shared = shared.parent
    folder = shared / "demo"
    folder.mkdir(exist_ok=True)
    with (shared / "demo.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not (folder / "told").exists():
            for command in (["migrate", "--verbosity=0"], ["demo", f"--weeks={WEEKS}"]):
                _manage(folder, *command)
            (folder / "told").touch()
    return folder / "db.sqlite3"


def _manage(folder: Path, *command: str) -> None:
    ours = {"CHARLINE_DATA": str(folder), "CHARLINE_MIGRATE": "1"}
    ours["DJANGO_SETTINGS_MODULE"] = "tests.settings"
    kept = {key: value for key, value in os.environ.items() if key != "DATABASE_URL"}
    subprocess.run(
        [sys.executable, "-m", "django", *command], cwd=settings.BASE_DIR, env=kept | ours,
        check=True, stdout=subprocess.DEVNULL,
    )  # fmt: skip


def head_at(bodies: list[str], size: int) -> HeadNote:
    """The note that was printed when the log had so many entries."""
    tree = merkle.GrowingTree()
    for body in bodies[:size]:
        tree.add(merkle.leaf_hash(body.encode()))
    return HeadNote(settings.LOG_ORIGIN, size, tree.root)
