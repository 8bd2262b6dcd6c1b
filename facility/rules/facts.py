"""The register of facts: every quantity a rule may speak of, its unit and meaning.

A fact that is not known is ``None`` with the reason; it never counts as met.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from facility.rules.fact import COUNT, DATE, WORD, YES_NO, Fact, Subject, Window, gettext_noop
from facility.rules.stated import STATED
from facility.rules.worked_out import WORKED_OUT

__all__ = [
    "COUNT", "DATE", "REGISTER", "WORD", "YES_NO", "Fact", "Facts", "Known", "Subject", "Value",
    "Window", "gettext_noop",
]  # fmt: skip


Value = float | bool | str | dt.date | None


@dataclass(frozen=True, slots=True)
class Known:
    """The value of a fact for one subject; ``why`` says how it was found, or why it was not."""

    value: Value
    why: str = ""


Facts = Mapping[str, Known]

REGISTER: dict[str, Fact] = {fact.key: fact for fact in (*WORKED_OUT, *STATED)}
