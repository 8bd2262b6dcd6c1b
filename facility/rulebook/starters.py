"""The rulebooks that come with the program, for a ground to begin with."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from django.conf import settings
from django.utils.translation import gettext_lazy

STARTERS = {
    "starter": ("rulebook.json", gettext_lazy("the starter rulebook, rows of many authorities")),
    "contrast": ("rulebook_contrast.json", gettext_lazy("the example of an invented coast")),
}


def starter_rows(name: str) -> list[dict[str, Any]]:
    """The rows of one of them, as its file has them."""
    rows: list[dict[str, Any]] = _file_of(name)["rows"]
    return rows


def starter_items(name: str) -> list[dict[str, Any]]:
    """The check list that comes with one of them, where it has any."""
    items: list[dict[str, Any]] = _file_of(name).get("checks", [])
    return items


def _file_of(name: str) -> dict[str, Any]:
    file, _title = STARTERS[name]
    text = (Path(settings.BASE_DIR) / "fixtures" / file).read_text(encoding="utf-8")
    found: dict[str, Any] = json.loads(text)
    return found
