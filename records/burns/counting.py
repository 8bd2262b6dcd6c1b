"""What entry control knows of a burn when it is closed.

Its events lie in a room above the burns, so that room says here whom to ask. A burn is not closed
while the board has somebody in: a recruit missed at the exit has been counted out with a tick
before (NIOSH F2003-28).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Protocol

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from facility.refusals import WrongState

if TYPE_CHECKING:
    from records.burns.models import Burn


class EntryControl(Protocol):
    """Who answers: the board of the yard."""

    def still_inside(self, burn: Burn, at: dt.datetime) -> Sequence[str]:
        """Names of those counted in and not out, or missing at the last roll call."""

    def minutes_inside(self, burn: Burn, at: dt.datetime) -> Mapping[str, int]:
        """Minutes [min] inside by public id of a person, or by code."""

    def doubts_left(self, burn: Burn) -> int:
        """How many doubts about what was recorded nobody has answered for."""


_asked: list[EntryControl] = []


def ask(entry_control: EntryControl) -> None:
    """Have the close of every burn ask it; called once, as the program starts."""
    if entry_control not in _asked:
        _asked.append(entry_control)


def still_inside(burn: Burn, at: dt.datetime) -> list[str]:
    return [name for each in _asked for name in each.still_inside(burn, at)]


def minutes_inside(burn: Burn, at: dt.datetime) -> dict[str, int]:
    """A suggestion for each person's exposure; nobody is in it whom the board does not know."""
    return {
        who: minutes for each in _asked for who, minutes in each.minutes_inside(burn, at).items()
    }


def refuse_somebody_inside(burn: Burn, at: dt.datetime) -> None:
    """Refuse to close a burn of which the board says that somebody is inside."""
    names = still_inside(burn, at)
    if names:
        raise WrongState(
            _(
                "By the entry board {names} did not come out. Look for them; then count them out on "
                "the yard page, or strike out there what was recorded wrongly."
            ).format(names=", ".join(names))
        )


def refuse_doubts_left(burn: Burn) -> None:
    """Refuse to close a burn while what the tablets recorded of it is in doubt."""
    left = sum(each.doubts_left(burn) for each in _asked)
    if left:
        raise WrongState(
            ngettext(
                '{n} doubt about what the tablets recorded is open. Say under "Look and settle" how it '
                "was; then close.",
                '{n} doubts about what the tablets recorded are open. Say under "Look and settle" how '
                "it was; then close.",
                left,
            ).format(n=left)
        )
