"""What the yard page is made of, and its version: what a browser keeps for the time without a signal.

The page and its worker are answered to anybody, because they hold nothing of anybody. The worker
names every file with the version of them all; another version is another cache, filled whole
before it is used, so that files of two versions are never mixed.
"""

from __future__ import annotations

import hashlib
import json
from functools import cache
from pathlib import Path

from django.conf import settings
from django.contrib.staticfiles import finders
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.urls import reverse

_FOLDER = Path(__file__).parent / "static" / "yard"
BOARD = "yard/_board.html"


def module(name: str) -> str:
    """The address of one of our modules: never with its hash in the name, because modules name
    each other by their plain names, and one file under two names would be two modules."""
    return f"{settings.STATIC_URL}yard/{name}"


def modules() -> list[str]:
    return sorted(path.name for path in _FOLDER.iterdir() if path.suffix in {".js", ".css", ".svg"} and path.name != "worker.js")  # fmt: skip


def files() -> list[str]:
    """Everything the page needs, by address."""
    return [
        reverse("yard:yard"), reverse("yard:manifest"), static("look/charline.css"),
        *(module(name) for name in modules()),
    ]  # fmt: skip


def page() -> str:
    return render_to_string("yard/yard.html", {"version": "{version}", **_context()})


def _context() -> dict[str, str]:
    return {
        "entry": module("page.js"), "styles": module("yard.css"), "icon": module("icon.svg"),
        "board": BOARD if _has_board() else "",
    }  # fmt: skip


def _has_board() -> bool:
    return any((Path(str(folder)) / BOARD).exists() for folder in _template_folders())


def _template_folders() -> list[object]:
    folders = settings.TEMPLATES[0]["DIRS"]
    return list(folders) if isinstance(folders, (list, tuple)) else []


@cache
def version() -> str:
    """Of the bytes of every file and of the page itself, so that nobody has to count it up."""
    told = hashlib.sha256(page().encode())
    for name in modules():
        told.update((_FOLDER / name).read_bytes())
    told.update((_FOLDER / "worker.js").read_bytes())
    shared = finders.find("look/charline.css")
    told.update(Path(shared).read_bytes() if isinstance(shared, str) else b"")
    return told.hexdigest()[:16]


def versioned_page() -> str:
    return page().replace("{version}", version())


def worker_script() -> str:
    """The worker, with its version and files before it; other bytes are another worker."""
    head = f"const VERSION = {json.dumps(version())};\nconst FILES = {json.dumps(files())};\n"
    return head + (_FOLDER / "worker.js").read_text()
