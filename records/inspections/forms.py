"""Forms about units and their state."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from facility.look.forms import ActForm, LocalDateTimeField, choose_first, to_decimal
from facility.people.models import Person
from records.audit.forms import SignatureForm
from records.inspections import selectors
from records.inspections.checklists import STRUCTURAL
from records.inspections.services import RETURN, DefectFound


class CheckForm(ActForm):
    """A form with a check list: each item ticked when it is in order."""

    def add_items(self, items: Iterable[Any]) -> None:
        self.item_names = []
        for index, item in enumerate(items):
            name = f"item_{index}"
            self.item_names.append(name)
            self.fields[name] = forms.BooleanField(required=False, label=item)

    def item_fields(self) -> list[Any]:
        return [self[name] for name in self.item_names]

    def checks(self) -> dict[str, bool]:
        return {str(self.fields[name].label): self.cleaned_data[name] for name in self.item_names}


class DefectPart(forms.Form):
    """The fields that describe a defect, for forms where one may be found."""

    severity = forms.ChoiceField(
        choices=lambda: [choose_first(), *selectors.SEVERITIES], required=False,
        label=gettext_lazy("How bad"),
    )  # fmt: skip
    place = forms.CharField(required=False, max_length=400, label=gettext_lazy("Where"))
    description = forms.CharField(
        required=False, max_length=2000, label=gettext_lazy("What is wrong"),
        widget=forms.Textarea(attrs={"rows": 2}),
    )  # fmt: skip

    def defect(self) -> DefectFound | None:
        given = self.cleaned_data
        parts = (given["severity"], given["place"], given["description"])
        return DefectFound(*parts) if any(parts) else None


class InspectionForm(CheckForm, DefectPart):
    outcome = forms.ChoiceField(
        choices=lambda: selectors.OUTCOMES, widget=forms.RadioSelect, label=gettext_lazy("Result")
    )
    done_at = LocalDateTimeField(label=gettext_lazy("Inspected"))
    note = forms.CharField(
        required=False, max_length=2000, label=gettext_lazy("Note"),
        widget=forms.Textarea(attrs={"rows": 2}),
    )  # fmt: skip

    thickness = forms.CharField(
        required=False, max_length=4000, label=gettext_lazy("Wall thickness by gauge"),
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text=gettext_lazy("One point to a line: its mark, then the thickness, as in W3 1.85 mm."),
    )  # fmt: skip

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.add_items(STRUCTURAL)

    def clean_thickness(self) -> dict[str, Decimal]:
        """The points with their thickness [mm]; each line is a mark and a quantity."""
        read: dict[str, Decimal] = {}
        for line in self.cleaned_data["thickness"].splitlines():
            point, _blank, text = line.strip().partition(" ")
            if point in read:
                raise ValidationError(_("Point {point} stands there twice.").format(point=point))
            if point and not text.strip():
                raise ValidationError(_("{point}: the thickness is missing.").format(point=point))
            if point:
                read[point] = to_decimal(text, "mm", 2)
        return read


class StopForm(ActForm):
    place = forms.CharField(max_length=400, label=gettext_lazy("Where"))
    description = forms.CharField(
        max_length=2000, label=gettext_lazy("What is wrong"),
        widget=forms.Textarea(attrs={"rows": 3}),
    )  # fmt: skip


class RepairForm(ActForm):
    what = forms.CharField(
        max_length=2000, label=gettext_lazy("What was done"),
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=gettext_lazy("Name a contractor here."),
    )  # fmt: skip
    done_by = forms.ChoiceField(label=gettext_lazy("Done or led by"))
    done_at = LocalDateTimeField(label=gettext_lazy("Finished"))

    def __init__(self, *args: Any, staff: Iterable[Person], **options: Any) -> None:
        super().__init__(*args, **options)
        self.staff = {person.public_id: person for person in staff}
        named = [(key, person.name) for key, person in self.staff.items()]
        self.fields["done_by"].choices = [choose_first(), *named]  # type: ignore[attr-defined]


class ReleaseForm(SignatureForm):
    act = "inspections.unit_released"
    meanings = [(RETURN, gettext_lazy("return to service"))]

    statement = forms.CharField(
        max_length=2000, label=gettext_lazy("What you saw, and that it is fit for burning"),
        widget=forms.Textarea(attrs={"rows": 3}),
    )  # fmt: skip
