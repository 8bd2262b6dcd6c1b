"""What no password may be, beside too short and among the most used (settings).

No rules of composition: long plain words are welcome.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _


def is_repetition(password: str) -> bool:
    """Whether a piece over and over makes the whole, blanks and case left aside; of the last
    sign of the second time no more is asked, for it may have stood between the two."""
    text = "".join(password.lower().split())
    pieces = (text[:length] for length in range(1, (len(text) + 1) // 2 + 1))
    return any((piece * len(text))[: len(text)] == text for piece in pieces if piece != text)


def is_trivial(code: str) -> bool:
    """Whether six digits are among the first to be guessed: a piece over and over, counting up
    or down by the same step, alone or in pairs."""
    return is_repetition(code) or _counts(code) or (_counts(code[::2]) and code[::2] == code[1::2])


def _counts(digits: str) -> bool:
    steps = {(int(b) - int(a)) % 10 for a, b in pairwise(digits)}
    return len(steps) == 1


class NoRepetition:
    """A validator of passwords: what is guessed at once is no longer for being typed twice."""

    def validate(self, password: str, user: Any = None) -> None:
        if is_repetition(password):
            raise ValidationError(_("This password is one piece over and over."))

    def get_help_text(self) -> str:
        return _("Not one piece over and over.")
