"""What may be recorded at the unit, and the values each kind of event takes.

One register: the server refuses by it, the yard page is drawn from it, the timeline is worded by
it. Values are texts, whole numbers, true and false, and lists of texts; a figure with decimals is
text (``"1.25"``), because a browser and a server must spell an event alike to the byte.

Stages and smoke are those of the indicator scheme building, smoke, air track, heat, flame; how
growth is parted in three is common practice, no source. Flashover is a transition, no stage.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any, Literal

from facility.rules.fact import gettext_noop

Kept = Literal["choice", "decimal", "whole", "text", "part", "parts", "person", "people"]
OPENING, POSITION = "opening", "position"  # the parts of a unit that an event may name
LONGEST_TEXT, MOST_IN_LIST = 200, 40


@dataclass(frozen=True, slots=True)
class Field:
    """One value of an event.

    ``kept`` says as what: ``choice`` one of ``choices``; ``decimal`` a figure as text and
    ``whole`` a whole number, both from ``low`` to ``high`` in ``unit``; ``text``; ``part`` or
    ``parts`` the public id of an opening or charge position (``of``) of the unit; ``person`` or
    ``people`` a public id or the code of somebody without an account. ``labelled`` values are read
    out with their label, because they say little by themselves.
    """

    name: str
    kept: Kept
    label: str
    choices: tuple[tuple[str, str], ...] = ()
    low: int = 0
    high: int = 0
    decimals: int = 0
    unit: str = ""
    of: str = ""
    needed: bool = True
    labelled: bool = False


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of event. ``group`` is where the page shows it; ``board`` for entry control."""

    name: str
    label: str
    group: str
    fields: tuple[Field, ...] = ()

    def field(self, name: str) -> Field | None:
        return next((each for each in self.fields if each.name == name), None)


def _choice(name: str, label: str, *choices: tuple[str, str], needed: bool = True) -> Field:
    return Field(name, "choice", label, choices, needed=needed)


def _figure(name: str, label: str, low: int, high: int, unit: str, *, decimals: int = 0) -> Field:
    kept: Kept = "decimal" if decimals else "whole"
    return Field(
        name, kept, label, low=low, high=high, decimals=decimals, unit=unit, needed=False,
        labelled=True,
    )  # fmt: skip


_NOTE = Field("note", "text", gettext_noop("note"), needed=False)
_WHO = Field("who", "person", gettext_noop("who"))
_BAR = Field("bar", "whole", gettext_noop("pressure"), low=0, high=350, unit="bar")
_VENT = Field("opening", "part", gettext_noop("opening"), of=OPENING)
_POSITIONS = Field("positions", "parts", gettext_noop("positions of the charge"), of=POSITION)
_NEUTRAL_PLANE = Field(
    "height_m", "decimal", gettext_noop("height above the floor"), low=0, high=10, decimals=2,
    unit="m",
)  # fmt: skip

_FIRE = (
    Kind("ignition", gettext_noop("ignition seen"), "fire"),
    Kind("stage", gettext_noop("stage of the fire"), "fire", (
        _choice(
            "stage", gettext_noop("stage"), ("incipient", gettext_noop("incipient")),
            ("growth_early", gettext_noop("growth, early")),
            ("growth_middle", gettext_noop("growth, middle")),
            ("growth_late", gettext_noop("growth, late")),
            ("fully_developed", gettext_noop("fully developed")), ("decay", gettext_noop("decay")),
        ),
    )),
    Kind("flames_ceiling", gettext_noop("flames at the ceiling"), "fire"),
    Kind("flame_overhead", gettext_noop("flame over heads"), "fire"),
    Kind("alight", gettext_noop("boards alight"), "fire", (_POSITIONS,)),
    Kind("not_alight", gettext_noop("boards not yet alight"), "fire", (_POSITIONS,)),
    Kind("fuel_added", gettext_noop("boards added"), "fire", (
        Field("boards", "whole", gettext_noop("boards"), low=1, high=50), _NOTE,
    )),
)  # fmt: skip

_SMOKE = (
    Kind("neutral_plane", gettext_noop("neutral plane"), "smoke", (_NEUTRAL_PLANE,)),
    Kind("layers", gettext_noop("layers seen"), "smoke", (
        Field("count", "whole", gettext_noop("layers"), low=1, high=5),
    )),
    Kind("air_track", gettext_noop("air track"), "smoke", (
        _choice(
            "direction", gettext_noop("direction"), ("in", gettext_noop("in")),
            ("out", gettext_noop("out")), ("both", gettext_noop("in low, out high")),
        ),
        _choice(
            "speed", gettext_noop("speed"), ("slow", gettext_noop("slow")),
            ("moderate", gettext_noop("moderate")), ("fast", gettext_noop("fast")),
        ),
        _choice(
            "flow", gettext_noop("flow"), ("smooth", gettext_noop("smooth")),
            ("turbulent", gettext_noop("turbulent")), ("pulsing", gettext_noop("pulsing")),
        ),
    )),
    Kind("smoke", gettext_noop("smoke"), "smoke", (
        _choice(
            "colour", gettext_noop("colour"), ("white", gettext_noop("white")),
            ("grey", gettext_noop("grey")), ("brown", gettext_noop("brown")),
            ("yellow", gettext_noop("yellow")), ("black", gettext_noop("black")),
        ),
        _choice(
            "volume", gettext_noop("volume"), ("little", gettext_noop("little")),
            ("medium", gettext_noop("medium")), ("much", gettext_noop("much")),
        ),
        _choice(
            "velocity", gettext_noop("velocity"), ("slow", gettext_noop("slow")),
            ("moderate", gettext_noop("moderate")), ("fast", gettext_noop("fast")),
        ),
    )),
)  # fmt: skip

_WORK = (
    Kind("vent_opened", gettext_noop("vent opened"), "vents", (_VENT,)),
    Kind("vent_closed", gettext_noop("vent closed"), "vents", (_VENT,)),
    Kind("water", gettext_noop("water applied"), "water", (
        _choice(
            "manner", gettext_noop("manner"), ("pulse", gettext_noop("pulse")),
            ("sweep", gettext_noop("sweep")),
        ),
        _choice(
            "where", gettext_noop("where"), ("layer", gettext_noop("into the smoke layer")),
            ("ceiling", gettext_noop("at the ceiling")), ("walls", gettext_noop("on the walls")),
            ("seat", gettext_noop("on the seat of the fire")),
            ("surroundings", gettext_noop("around the unit")),
        ),
    )),
    Kind("steam", gettext_noop("steam"), "water"),
    Kind("knock_down", gettext_noop("knock-down"), "end"),
    Kind("out", gettext_noop("fire out"), "end"),
    Kind("stop", gettext_noop("stopped early"), "end", (
        Field("reason", "text", gettext_noop("reason")),
    )),
    Kind("undo", gettext_noop("struck out"), "undo"),
)  # fmt: skip

_BOARD = (
    Kind("person_in", gettext_noop("went in"), "board", (
        _WHO, Field("name", "text", gettext_noop("name"), needed=False), _BAR,
        Field("purpose", "text", gettext_noop("purpose"), needed=False),
        Field("team", "text", gettext_noop("team"), needed=False, labelled=True),
    )),
    Kind("person_out", gettext_noop("came out"), "board", (_WHO, replace(_BAR, needed=False))),
    Kind("pressure", gettext_noop("pressure read"), "board", (_WHO, _BAR)),
    Kind("roll_call", gettext_noop("roll call"), "board", (
        Field("missing", "people", gettext_noop("missing")),
    )),
    # What the board reckons with, as typed on it; ``facility.yard.air_board`` has the same ranges.
    Kind("air_numbers", gettext_noop("figures of the board"), "board", (
        _figure("cylinder_l", gettext_noop("volume of one cylinder"), 1, 50, "L", decimals=2),
        _figure("cylinders", gettext_noop("cylinders of a set"), 1, 4, ""),
        _figure("nominal_bar", gettext_noop("nominal pressure"), 50, 500, "bar"),
        _figure("whistle_bar", gettext_noop("pressure at the whistle"), 1, 500, "bar"),
        _figure("l_min", gettext_noop("consumption"), 10, 500, "L/min"),
        _figure("way_out", gettext_noop("air for the way out, times the way in"), 0, 10, "", decimals=1),
        _figure("start_pct", gettext_noop("least start pressure, of the nominal"), 0, 100, "%"),
        _figure("cap", gettext_noop("most people inside"), 0, 100, ""),
        _figure("check_min", gettext_noop("longest time between two readings"), 1, 120, "min"),
        _figure("stay_min", gettext_noop("longest stay"), 1, 240, "min"),
    )),
)  # fmt: skip

KINDS: Mapping[str, Kind] = {each.name: each for each in (*_FIRE, *_SMOKE, *_WORK, *_BOARD)}
UNDO = "undo"
# A gauge read or typed wrongly is corrected by another event of its kind, which stands at the time
# of the first: struck out and told anew, somebody would have gone in later than they did.
CORRECTABLE = frozenset({"person_in", "person_out", "pressure"})
# Nothing of these can have happened before the fire was lit.
OF_THE_FIRE = frozenset(
    each.name for each in (*_FIRE, *_SMOKE, *_WORK) if each.name not in {"stop", "undo"}
) - {"ignition", "vent_opened", "vent_closed"}  # fmt: skip
ENDS = frozenset({"out", "stop"})


@dataclass(frozen=True, slots=True)
class Fault:
    """Why a value is refused: of which field, and a sentence with ``{blanks}`` for ``given``."""

    field: str
    sentence: str
    given: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Unit:
    """What of a unit an event may speak of: its ceiling [m], and the ids of its parts."""

    ceiling_m: Decimal
    openings: frozenset[str]
    positions: frozenset[str]


def faults_of(kind: str, value: Any, unit: Unit) -> list[Fault]:
    """Everything that is wrong with the value of an event; an empty list where nothing is."""
    known = KINDS.get(kind)
    if known is None:
        return [Fault("kind", gettext_noop("This kind of event is not known."), {})]
    if not isinstance(value, dict):
        return [Fault("value", gettext_noop("The value must be an object."), {})]
    stray = sorted(str(name) for name in value if known.field(str(name)) is None)
    found = [
        Fault(name, gettext_noop("{field} is not a field of this kind."), {"field": name})
        for name in stray
    ]
    for field in known.fields:
        fault = _fault(field, value, unit)
        if fault is not None:
            found.append(fault)
    return found


def _fault(field: Field, value: Mapping[str, Any], unit: Unit) -> Fault | None:
    if field.name not in value:
        missing = gettext_noop("{field} is missing.")
        return Fault(field.name, missing, {"field": field.name}) if field.needed else None
    wrong = _CHECKS[field.kept](field, value[field.name], unit)
    if wrong is None:
        return None
    allowed = {"low": field.low, "high": field.high, "unit": field.unit, "ceiling": unit.ceiling_m}
    given = {"field": field.name, "given": _short(value[field.name]), **allowed}
    return Fault(field.name, wrong, given)


def _short(value: Any) -> str:
    return str(value)[:40]


def _wrong_choice(field: Field, given: Any, unit: Unit) -> str | None:
    known = isinstance(given, str) and given in {key for key, _label in field.choices}
    return None if known else gettext_noop("{given} is no choice of {field}.")


def _wrong_whole(field: Field, given: Any, unit: Unit) -> str | None:
    if isinstance(given, bool) or not isinstance(given, int):
        return gettext_noop("{field} must be a whole number; {given} was given.")
    return None if field.low <= given <= field.high else _OUT_OF_RANGE


_OUT_OF_RANGE = gettext_noop("{field}: {given} was given; {low} to {high} {unit} is allowed.")


def _wrong_decimal(field: Field, given: Any, unit: Unit) -> str | None:
    digits = given.replace(".", "", 1) if isinstance(given, str) else ""
    if not (digits.isascii() and digits.isdigit() and len(given) <= 12 and given[0] != "."):
        return gettext_noop("{field} must be a figure written as text; {given} was given.")
    if len(given.partition(".")[2]) > field.decimals:
        return gettext_noop("{field}: {given} has too many decimals.")
    if not field.low <= Decimal(given) <= field.high:
        return _OUT_OF_RANGE
    if field.name == "height_m" and Decimal(given) > unit.ceiling_m:
        return gettext_noop("{field}: {given} m lies above the ceiling, which is at {ceiling} m.")
    return None


def _wrong_text(field: Field, given: Any, unit: Unit) -> str | None:
    if not isinstance(given, str):
        return gettext_noop("{field} must be text.")
    if field.needed and not given.strip():
        return gettext_noop("{field}: something must be written here.")
    if len(given) > LONGEST_TEXT:
        return gettext_noop("{field} is longer than 200 characters.")
    stray = any(unicodedata.category(char) in _NO_TEXT and char not in "\n\t" for char in given)
    return gettext_noop("{field} holds a control character.") if stray else None


# Controls, halves of pairs, and places of the code that nobody has given a meaning.
_NO_TEXT = frozenset({"Cc", "Cs", "Cn", "Co"})


def _wrong_part(field: Field, given: Any, unit: Unit) -> str | None:
    known = unit.openings if field.of == OPENING else unit.positions
    there = isinstance(given, str) and given in known
    return None if there else gettext_noop("{field}: {given} is no part of this unit.")


def _wrong_list(field: Field, given: Any, least: int) -> str | None:
    if not isinstance(given, list):
        return gettext_noop("{field} must be a list.")
    if not least <= len(given) <= MOST_IN_LIST:
        return gettext_noop("{field} holds too few or too many.")
    if not all(isinstance(each, str) for each in given) or len(set(given)) < len(given):
        return gettext_noop("{field} must name each once, as text.")
    return None


def _wrong_parts(field: Field, given: Any, unit: Unit) -> str | None:
    wrong = _wrong_list(field, given, 1)
    if wrong is not None:
        return wrong
    return next(filter(None, (_wrong_part(field, each, unit) for each in given)), None)


def _wrong_person(field: Field, given: Any, unit: Unit) -> str | None:
    """A public id or a code; which people there are is the server's to know."""
    fits = isinstance(given, str) and 1 <= len(given) <= 40 and given.isprintable()
    return None if fits and given.strip() else gettext_noop("{field} must be a name or a code.")


def _wrong_people(field: Field, given: Any, unit: Unit) -> str | None:
    wrong = _wrong_list(field, given, 0)
    if wrong is not None:
        return wrong
    return next(filter(None, (_wrong_person(field, each, unit) for each in given)), None)


_CHECKS: Mapping[Kept, Any] = {
    "choice": _wrong_choice, "decimal": _wrong_decimal, "whole": _wrong_whole, "text": _wrong_text,
    "part": _wrong_part, "parts": _wrong_parts, "person": _wrong_person, "people": _wrong_people,
}  # fmt: skip
