"""The form of a unit's make-up: its size, its parts row by row, and what the handover allows.

A row that is left empty is no part; a part whose row is cleared is taken out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from facility.look.forms import ActForm, LocalDateTimeField, QuantityField, choose_first, to_decimal
from facility.refusals import Refused, WrongMakeUp
from facility.sites.makeup import PARTS, SIZES, Fault, MakeUp, described, faults
from facility.sites.models import (
    IN_THE_ROOF,
    Lined,
    OpeningKind,
    Side,
    Surface,
    Unit,
    UnitKind,
)
from records.ground.selectors import CHANGES

# What is asked of each kind of part: field, heading, unit or choices, and whether it may be empty.
Column = tuple[str, Any, Any, bool]
M = "m"
COLUMNS: dict[str, tuple[Column, ...]] = {
    "compartments": (
        ("name", gettext_lazy("Name"), "", False),
        ("x_m", gettext_lazy("From the burn end"), M, False),
        ("y_m", gettext_lazy("From the right wall"), M, False),
        ("length_m", gettext_lazy("Length"), M, False),
        ("width_m", gettext_lazy("Width"), M, False),
    ),
    "openings": (
        ("name", gettext_lazy("Name"), "", False),
        ("kind", gettext_lazy("Kind"), OpeningKind, False),
        ("side", gettext_lazy("In which wall"), Side, True),
        ("x_m", gettext_lazy("Middle, from the burn end"), M, True),
        ("y_m", gettext_lazy("Middle, from the right wall"), M, True),
        ("width_m", gettext_lazy("Width"), M, False),
        ("height_m", gettext_lazy("Height"), M, False),
        ("sill_m", gettext_lazy("Sill above the floor"), M, True),
    ),
    "baffles": (
        ("name", gettext_lazy("Name"), "", False),
        ("x_m", gettext_lazy("From the burn end"), M, False),
        ("y_m", gettext_lazy("From the right wall"), M, False),
        ("width_m", gettext_lazy("Width"), M, False),
        ("z_m", gettext_lazy("Lower edge above the floor"), M, False),
        ("height_m", gettext_lazy("Height"), M, False),
    ),
    "linings": (
        ("name", gettext_lazy("Material"), "", False),
        ("surface", gettext_lazy("Surface"), Lined, False),
        ("thickness_mm", gettext_lazy("Thickness"), "mm", False),
        ("x_m", gettext_lazy("From the burn end"), M, True),
        ("length_m", gettext_lazy("Length"), M, True),
    ),
    "positions": (
        ("name", gettext_lazy("Name"), "", False),
        ("surface", gettext_lazy("Surface"), Surface, False),
        ("x_m", gettext_lazy("From the burn end"), M, False),
        ("length_m", gettext_lazy("Length"), M, False),
    ),
    "sensors": (
        ("name", gettext_lazy("Name"), "", False),
        ("x_m", gettext_lazy("From the burn end"), M, False),
        ("y_m", gettext_lazy("From the right wall"), M, True),
        ("z_m", gettext_lazy("Above the floor"), M, False),
    ),
}
TITLES = {
    "compartments": (
        gettext_lazy("Compartments"),
        gettext_lazy("Leave this empty for a unit of one room."),
    ),
    "openings": (
        gettext_lazy("Doors, windows, vents and hatches"),
        gettext_lazy("Left and right as seen from the burn end. In the roof the width runs along the unit and the height across it. Where the middle is left empty, it is the end of the unit, or half its width."),
    ),
    "baffles": (gettext_lazy("Baffles"), gettext_lazy("Plates across the unit that hold the smoke back.")),
    "linings": (gettext_lazy("Linings"), gettext_lazy("What protects the steel, surface by surface. Without a length, all of the surface.")),
    "positions": (gettext_lazy("Charge positions"), gettext_lazy("Where boards hang or stand; plans place the charge on these.")),
    "sensors": (gettext_lazy("Thermocouples"), gettext_lazy("Without a distance from the right wall, in the middle of the unit.")),
}  # fmt: skip
ROWS = {"compartments": 5, "openings": 8, "baffles": 3, "linings": 6, "positions": 8, "sensors": 8}


class MakeUpForm(ActForm):
    """The make-up; ``unit`` is the one that changes, None for one that is commissioned."""

    length_m = QuantityField("m", 2, label=gettext_lazy("Length inside"))
    width_m = QuantityField("m", 2, label=gettext_lazy("Width inside"))
    height_m = QuantityField("m", 2, label=gettext_lazy("Height inside"))
    wall = forms.CharField(
        max_length=200, label=gettext_lazy("Walls"),
        help_text=gettext_lazy("As in: steel 2 mm, lined in the burn end."),
    )  # fmt: skip
    required_wall_mm = QuantityField(
        "mm", 2, required=False, label=gettext_lazy("Wall required"),
        help_text=gettext_lazy("Below it the unit is no longer fit, as the engineer set it."),
    )  # fmt: skip
    max_people = forms.IntegerField(
        label=gettext_lazy("People inside, at most"), min_value=0, max_value=60,
        help_text=gettext_lazy("0 for a window unit, which nobody enters."),
    )  # fmt: skip
    max_charge_kg = QuantityField(
        "kg", 1, required=False, label=gettext_lazy("Charge at most, dry")
    )
    max_burns_day = forms.IntegerField(
        required=False, label=gettext_lazy("Burns a day, at most"), min_value=1, max_value=24
    )
    cool_down_min = QuantityField(
        "min", 0, required=False, label=gettext_lazy("Cool-down between burns, at least")
    )

    def __init__(self, *args: Any, unit: Unit | None = None, **options: Any) -> None:
        super().__init__(*args, **options)
        self.unit = unit
        self.rows = {
            kind: max(most, len(getattr(unit, kind).all()) + 2 if unit else 0)
            for kind, most in ROWS.items()
        }
        for kind, columns in COLUMNS.items():
            for row in range(self.rows[kind]):
                self._add_row(kind, row, columns)
        self.whole_rows: dict[str, list[tuple[int, dict[str, Any]]]] = {}

    def _add_row(self, kind: str, row: int, columns: Sequence[Column]) -> None:
        self.fields[f"{kind}_{row}_key"] = forms.CharField(
            required=False, max_length=10, widget=forms.HiddenInput
        )
        for name, heading, what, _empty in columns:
            field = _cell(what)
            field.label = heading
            line = _("{heading}, line {number}").format(heading=heading, number=row + 1)
            field.widget.attrs["aria-label"] = line
            self.fields[f"{kind}_{row}_{name}"] = field

    def sections(self) -> list[dict[str, Any]]:
        """The parts by kind, with their rows of cells, for the template."""
        return [
            {"kind": kind, "title": TITLES[kind][0], "help": TITLES[kind][1], "rows": self._rows(kind)}
            for kind in COLUMNS
        ]  # fmt: skip

    def _rows(self, kind: str) -> list[dict[str, Any]]:
        return [
            {
                "key": self[f"{kind}_{row}_key"],
                "cells": [self[f"{kind}_{row}_{name}"] for name, *_more in COLUMNS[kind]],
            }
            for row in range(self.rows[kind])
        ]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        self.whole_rows = {kind: self._clean_rows(kind, given) for kind in COLUMNS}
        return given

    def _clean_rows(self, kind: str, given: Mapping[str, Any]) -> list[tuple[int, dict[str, Any]]]:
        """The rows that are parts, each with its place on the form; others get their errors."""
        return [
            (row, part)
            for row in range(self.rows[kind])
            if (part := self._clean_row(kind, row, given)) is not None
        ]

    def _clean_row(self, kind: str, row: int, given: Mapping[str, Any]) -> dict[str, Any] | None:
        cells = {name: given.get(f"{kind}_{row}_{name}") for name, *_more in COLUMNS[kind]}
        if all(value in (None, "") for value in cells.values()):
            return None
        part: dict[str, Any] = {"key": given.get(f"{kind}_{row}_key") or ""}
        for name, _heading, what, may_be_empty in COLUMNS[kind]:
            place, value = f"{kind}_{row}_{name}", cells[name]
            if what in (M, "mm") and value:
                try:
                    value = to_decimal(value, what, 1 if what == "mm" else 2)
                except ValidationError as refused:
                    self.add_error(place, refused)
            elif not value and not may_be_empty:
                self.add_error(place, _("This line is not whole yet."))
            part[name] = value if value not in (None, "") else None
        self._fill_in(kind, part, given)
        missing = [
            name for name, _h, _w, empty in COLUMNS[kind] if part[name] is None and not empty
        ]
        if missing or any(f"{kind}_{row}_{name}" in self.errors for name in cells):
            return None
        for name in ("x_m", "length_m"):
            if name in part and part[name] is None:
                self.add_error(f"{kind}_{row}_{name}", _("This line is not whole yet."))
                return None
        return part

    def _fill_in(self, kind: str, part: dict[str, Any], given: Mapping[str, Any]) -> None:
        """What need not be typed: the wall of a roof vent, where the ends are, whole surfaces."""
        length = given.get("length_m")
        if kind == "openings":
            part["sill_m"] = part["sill_m"] if part["sill_m"] is not None else Decimal(0)
            if part["side"] is None and part["kind"] in IN_THE_ROOF:
                part["side"] = Side.ROOF
            if part["side"] is None:
                part["side"] = Side.RIGHT if part["x_m"] is not None else Side.FRONT
            ends = {Side.FRONT: length, Side.REAR: Decimal(0)}
            if part["side"] in ends:
                part["x_m"] = ends[part["side"]]
        if kind == "linings" and part["x_m"] is None and part["length_m"] is None:
            part["x_m"], part["length_m"] = Decimal(0), length

    def parts(self) -> dict[str, Any]:
        """The parts as the services take them."""
        return {kind: [part for _row, part in rows] for kind, rows in self.whole_rows.items()}

    def description(self) -> dict[str, Any]:
        """Sizes, walls and limits as the services take them."""
        names = (
            *SIZES, "wall", "required_wall_mm", "max_people", "max_charge_kg", "max_burns_day",
            "cool_down_min",
        )  # fmt: skip
        given = {name: self.cleaned_data.get(name) for name in names}
        if given["cool_down_min"] is not None:
            given["cool_down_min"] = int(given["cool_down_min"])
        return given

    def refuse(self, refused: Refused) -> None:
        if not isinstance(refused, WrongMakeUp):
            return super().refuse(refused)
        self.refused = refused
        for fault in refused.faults:
            self.add_error(self._field_of(fault), fault.sentence)
        return None

    def _field_of(self, fault: Fault) -> str | None:
        if not fault.kind:
            return fault.field
        row = self.whole_rows[fault.kind][fault.row][0]
        name = f"{fault.kind}_{row}_{fault.field}"
        return name if name in self.fields else None

    def drawn(self) -> tuple[MakeUp | None, list[dict[str, Any]]]:
        """What can be drawn of what is typed so far, and what cannot be: of which part, and why."""
        given = self.cleaned_data
        if any(given.get(size) is None for size in SIZES):
            return None, []
        sizes = {size: given[size] for size in SIZES}
        made = described(
            given.get("name") or (self.unit.name if self.unit else ""), sizes, self.parts()
        )
        wrong = [
            {"part": _named(made, fault), "sentence": fault.sentence} for fault in faults(made)
        ]
        if any(not fault["part"] for fault in wrong):  # of such a size nothing is drawn
            return None, wrong
        return made, wrong


def _named(made: MakeUp, fault: Fault) -> str:
    return getattr(made, fault.kind)[fault.row].name if fault.kind else ""


def _cell(what: Any) -> forms.Field:
    if isinstance(what, str):
        field = forms.CharField(max_length=40, required=False)
        if what:
            field.widget.attrs.update({"inputmode": "decimal", "autocomplete": "off"})
            field.unit_shown = what  # type: ignore[attr-defined]
        return field
    return forms.ChoiceField(choices=[("", "–"), *what.choices], required=False)


class CommissionForm(MakeUpForm):
    name = forms.CharField(max_length=200, label=gettext_lazy("Name of the unit"))
    kind = forms.ChoiceField(
        choices=lambda: [choose_first(), *UnitKind.choices], label=gettext_lazy("Kind")
    )
    commissioned_on = forms.DateField(
        label=gettext_lazy("Commissioned on"),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    trials = forms.CharField(
        max_length=2000, label=gettext_lazy("Trials"), widget=forms.Textarea(attrs={"rows": 2}),
        help_text=gettext_lazy("Which trial burns and tests were done, and what they showed."),
    )  # fmt: skip
    handover_document = forms.CharField(
        max_length=300, label=gettext_lazy("Handover document"),
        help_text=gettext_lazy("Its number, and where it is filed."),
    )  # fmt: skip

    def description(self) -> dict[str, Any]:
        given = self.cleaned_data
        names = ("name", "kind", "commissioned_on", "handover_document")
        return {**super().description(), **{name: given[name] for name in names}}


class ChangeForm(MakeUpForm):
    seen_version = forms.IntegerField(widget=forms.HiddenInput)
    what_happened = forms.ChoiceField(
        choices=lambda: [choose_first(), *CHANGES], label=gettext_lazy("What happened")
    )
    since = LocalDateTimeField(label=gettext_lazy("Since"))
    what = forms.CharField(
        max_length=2000, label=gettext_lazy("What was done, and where it stands now"),
        widget=forms.Textarea(attrs={"rows": 2}),
    )  # fmt: skip
    document = forms.CharField(
        required=False, max_length=300, label=gettext_lazy("Document"),
        help_text=gettext_lazy("Drawing, certificate or order, and where it is filed."),
    )  # fmt: skip


def initial_of(unit: Unit) -> dict[str, Any]:
    """A unit as it stands as the starting values of the form."""
    names = (
        *SIZES, "wall", "required_wall_mm", "max_people", "max_charge_kg", "max_burns_day",
        "cool_down_min",
    )  # fmt: skip
    start: dict[str, Any] = {name: _typed(getattr(unit, name)) for name in names}
    for kind, model in PARTS.items():
        for row, part in enumerate(getattr(unit, kind).all()):
            start[f"{kind}_{row}_key"] = part.public_id
            for name in model.DESCRIBED:
                start[f"{kind}_{row}_{name}"] = _typed(getattr(part, name))
    return start


def _typed(value: Any) -> Any:
    if not isinstance(value, Decimal):
        return value
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


class TakeOverForm(ActForm):
    """What an older log says of whole days of a unit."""

    first = forms.DateField(
        label=gettext_lazy("First day"),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    last = forms.DateField(
        label=gettext_lazy("Last day"),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    burns = forms.IntegerField(label=gettext_lazy("Burns"))
    dry_mass_kg = QuantityField("kg", 2, label=gettext_lazy("Dry mass burned"))
    energy_mj = QuantityField("MJ", 1, label=gettext_lazy("Energy"))
    document = forms.CharField(
        max_length=300, label=gettext_lazy("Which log, and where it is filed")
    )
