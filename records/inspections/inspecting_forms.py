"""Forms of an inspection: its check list, parts, gauge; points of the walls, thermocouples."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from facility.look.forms import (
    ActForm,
    LocalDateTimeField,
    QuantityField,
    choose_first,
    to_decimal,
)
from facility.sites.makeup import make_up_of, named_parts
from facility.sites.models import Unit
from records.inspections import gauging_selectors as walls
from records.inspections import selectors
from records.inspections.checklists import AT_PART, LISTS
from records.inspections.forms import CheckForm, DefectPart
from records.inspections.gauging import Gauge
from records.inspections.looking import Look
from records.inspections.services import DefectFound
from records.pictures.forms import PictureField

_SHELL = {"rear": "walls", "front": "walls", "left": "walls", "right": "walls", "roof": "roof",
          "floor": "floor"}  # fmt: skip


class ReadingsField(forms.CharField):
    """Readings of one point: ``1.85 1.84 1,86 mm``; a unit at the end counts for all of them."""

    def __init__(self, **options: Any) -> None:
        super().__init__(required=False, max_length=120, **options)
        self.widget.attrs.update({"inputmode": "decimal", "autocomplete": "off"})

    def clean(self, value: Any) -> list[Decimal]:
        tokens = re.findall(r"[^\s;]+", super().clean(value))
        unit = tokens.pop() if len(tokens) > 1 and not any(c.isdigit() for c in tokens[-1]) else ""
        return [to_decimal(f"{token} {unit}".strip(), "mm", 2) for token in tokens]


@dataclass(frozen=True, slots=True)
class PartFields:
    """The fields of one part, as the page lays them out."""

    key: str
    name: str
    looked_at: Any
    result: Any
    note: Any
    picture: Any

    @property
    def begun(self) -> bool:
        return bool(self.result.value() or self.note.value() or self.result.errors
                    or self.note.errors or self.picture.errors)  # fmt: skip


class InspectionForm(CheckForm, DefectPart):
    kind = forms.ChoiceField(
        choices=lambda: selectors.KINDS, required=False, widget=forms.HiddenInput
    )
    outcome = forms.ChoiceField(
        choices=lambda: selectors.OUTCOMES, widget=forms.RadioSelect, label=gettext_lazy("Result")
    )
    done_at = LocalDateTimeField(label=gettext_lazy("Inspected"))
    note = forms.CharField(
        required=False, max_length=2000, label=gettext_lazy("Note"),
        widget=forms.Textarea(attrs={"rows": 2}),
    )  # fmt: skip
    gauge = forms.CharField(
        required=False, max_length=400, label=gettext_lazy("Gauge"),
        help_text=gettext_lazy("The mark on it."),
    )  # fmt: skip
    block_mm = QuantityField("mm", 2, required=False, label=gettext_lazy("Block, nominal"))
    block_read_mm = QuantityField("mm", 2, required=False, label=gettext_lazy("Gauge read on it"))
    checked_on = forms.DateField(
        required=False, label=gettext_lazy("Block read on"),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )  # fmt: skip
    thickness_why = forms.CharField(
        required=False, max_length=1000, label=gettext_lazy("Why a doubtful reading stands"),
        help_text=gettext_lazy(
            "Asked for where a wall reads over its nominal thickness, thicker than before, or "
            "half of it."
        ),
    )  # fmt: skip

    def __init__(self, *args: Any, unit: Unit, kind: str, **options: Any) -> None:
        super().__init__(*args, **options)
        self.list_kind = kind if kind in LISTS else "structural"
        self.add_items(LISTS[self.list_kind])
        self.offer_parts(unit)
        self.fields["part"].help_text = ""
        self._add_parts(unit)
        self._add_points(unit)

    def _add_parts(self, unit: Unit) -> None:
        made = make_up_of(unit)
        kinds = {part.public_id: kind for kind, rows in made.parts.items() for part in rows}
        self.parts = [(key, name, AT_PART[_SHELL.get(key) or kinds[key]])
                      for key, name in named_parts(made)]  # fmt: skip
        for key, name, _looked_at in self.parts:
            self.fields[f"result_{key}"] = forms.ChoiceField(
                choices=selectors.OUTCOMES, required=False, widget=forms.RadioSelect,
                label=_("Result, {part}").format(part=name),
            )  # fmt: skip
            self.fields[f"note_{key}"] = forms.CharField(
                required=False, max_length=2000, label=_("Note, {part}").format(part=name),
                widget=forms.Textarea(attrs={"rows": 2}),
            )  # fmt: skip
            self.fields[f"picture_{key}"] = PictureField(
                required=False, label=_("Photograph, {part}").format(part=name)
            )

    def _add_points(self, unit: Unit) -> None:
        self.points = walls.points_of(unit)
        for point in self.points:
            self.fields[f"mm_{point.public_id}"] = ReadingsField(label=point.mark)

    def part_fields(self) -> list[PartFields]:
        return [
            PartFields(key, name, looked_at, self[f"result_{key}"], self[f"note_{key}"],
                       self[f"picture_{key}"])
            for key, name, looked_at in self.parts
        ]  # fmt: skip

    def point_fields(self) -> list[tuple[str, list[Any]]]:
        """The fields of the points, by wall."""
        names = dict(walls.WALLS)
        grouped: dict[str, list[Any]] = {}
        for point in self.points:
            wall = str(names.get(point.wall, _("place not recorded")))
            grouped.setdefault(wall, []).append(self[f"mm_{point.public_id}"])
        return list(grouped.items())

    def looks(self) -> dict[str, Look]:
        """What was found at each part that was looked at; a note or a picture needs a result."""
        given, found = self.cleaned_data, {}
        for key, _name, _looked_at in self.parts:
            look = Look(given[f"result_{key}"], given[f"note_{key}"], given[f"picture_{key}"])
            if look.result or look.note.strip() or look.picture:
                found[key] = look
        return found

    def readings(self) -> dict[str, list[Decimal]]:
        given = {point.mark: self.cleaned_data[f"mm_{point.public_id}"] for point in self.points}
        return {mark: repeats for mark, repeats in given.items() if repeats}

    def gauge_used(self) -> Gauge | None:
        given = self.cleaned_data
        if not (given["gauge"] and given["block_mm"] and given["block_read_mm"]):
            return None
        day = given["checked_on"] or given["done_at"].date()
        return Gauge(given["gauge"], given["block_mm"], given["block_read_mm"], day)

    def defect(self) -> DefectFound | None:
        """The defect described below; that of the one part with a fault where it names none."""
        found = super().defect()
        faults = [key for key, look in self.looks().items() if look.is_fault]
        if found is not None and not found.part and not found.place.strip() and len(faults) == 1:
            note = found.description or self.looks()[faults[0]].note
            return replace(found, part=faults[0], description=note)
        return found


class PointsForm(ActForm):
    """Points marked on a wall: an even grid, or one at a place of its own."""

    wall = forms.ChoiceField(
        choices=lambda: [choose_first(), *walls.WALLS], label=gettext_lazy("Wall"),
        help_text=gettext_lazy("Left and right as seen from the burn end."),
    )  # fmt: skip
    letters = forms.CharField(
        max_length=100, label=gettext_lazy("Mark"),
        help_text=gettext_lazy("Letters; the number follows by itself, as in W1, W2."),
    )  # fmt: skip
    nominal_mm = QuantityField("mm", 2, label=gettext_lazy("Thickness it was built with"))
    columns = forms.IntegerField(
        initial=1, label=gettext_lazy("Points side by side"), min_value=1, max_value=12
    )
    rows = forms.IntegerField(
        initial=1, label=gettext_lazy("Points one over the other"), min_value=1, max_value=4
    )
    along_m = QuantityField(
        "m", 2, required=False, label=gettext_lazy("One point: along the wall"),
        help_text=gettext_lazy("From its left edge, seen from inside; of roof and floor from the "
                               "burn end."),
    )  # fmt: skip
    up_m = QuantityField(
        "m", 2, required=False, label=gettext_lazy("One point: up"),
        help_text=gettext_lazy("From its lower edge; of roof and floor from the left wall."),
    )  # fmt: skip


class CalibrationForm(ActForm):
    """Thermocouples held against a reference, one line each; empty lines were not held."""

    against = forms.CharField(
        max_length=400, label=gettext_lazy("Held against"),
        help_text=gettext_lazy("Which reference, and its certificate."),
    )  # fmt: skip
    done_on = forms.DateField(
        label=gettext_lazy("Done on"),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )  # fmt: skip

    def __init__(self, *args: Any, sensors: Iterable[Any], **options: Any) -> None:
        super().__init__(*args, **options)
        self.states = list(sensors)
        for state in self.states:
            key, name = state.sensor.public_id, state.sensor.name
            self.fields[f"reference_{key}"] = QuantityField(
                "degC", 1, required=False, label=_("Reference, {sensor}").format(sensor=name)
            )
            self.fields[f"read_{key}"] = QuantityField(
                "degC", 1, required=False, label=_("Read, {sensor}").format(sensor=name)
            )

    def lines(self) -> list[tuple[Any, Any, Any]]:
        return [
            (
                each,
                self[f"reference_{each.sensor.public_id}"],
                self[f"read_{each.sensor.public_id}"],
            )
            for each in self.states
        ]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or self.cleaned_data
        for each in self.states:
            key = each.sensor.public_id
            pair = (given.get(f"reference_{key}"), given.get(f"read_{key}"))
            if (pair[0] is None) != (pair[1] is None) and f"read_{key}" not in self.errors:
                self.add_error(
                    f"read_{key}", ValidationError(_("Give both: the reference, and what it read."))
                )
        return given

    def read(self) -> dict[str, tuple[Decimal, Decimal]]:
        given, found = self.cleaned_data, {}
        for each in self.states:
            key = each.sensor.public_id
            if given[f"reference_{key}"] is not None:
                found[key] = (given[f"reference_{key}"], given[f"read_{key}"])
        return found
