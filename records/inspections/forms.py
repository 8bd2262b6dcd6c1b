"""Forms about units and their state."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from facility.look.forms import ActForm, LocalDateTimeField, QuantityField, choose_first
from facility.people.models import Person
from facility.sites.makeup import make_up_of, named_parts
from facility.sites.models import Unit
from records.audit.forms import SignatureForm
from records.inspections import selectors
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


class PlacePart(forms.Form):
    """Where a defect is: a part of the unit, tapped on its drawing or chosen, and words for it."""

    part = forms.ChoiceField(
        choices=[("", "–")], required=False, label=gettext_lazy("Part of the unit"),
        help_text=gettext_lazy("Tap it on the drawing, or choose it here."),
    )  # fmt: skip
    place = forms.CharField(
        required=False, max_length=400, label=gettext_lazy("Where"),
        help_text=gettext_lazy("Without words, the name of the part stands for the place."),
    )  # fmt: skip

    def offer_parts(self, unit: Unit) -> None:
        named = named_parts(make_up_of(unit))
        self.fields["part"].choices = [("", "–"), *named]  # type: ignore[attr-defined]


class DefectPart(PlacePart):
    """The fields that describe a defect and what it forbids, for forms where one may be found."""

    severity = forms.ChoiceField(
        choices=lambda: [choose_first(), *selectors.SEVERITIES], required=False,
        label=gettext_lazy("How bad"),
    )  # fmt: skip
    description = forms.CharField(
        required=False, max_length=2000, label=gettext_lazy("What is wrong"),
        widget=forms.Textarea(attrs={"rows": 2}),
    )  # fmt: skip
    no_entry = forms.BooleanField(required=False, label=gettext_lazy("Nobody goes inside"))
    most_boards = forms.IntegerField(
        required=False, min_value=0, max_value=200, label=gettext_lazy("Boards at most")
    )
    most_dry_kg = QuantityField("kg", 1, required=False, label=gettext_lazy("Charge at most, dry"))

    def defect(self) -> DefectFound | None:
        given = self.cleaned_data
        found = DefectFound(
            given["severity"], given["place"], given["description"], given["part"],
            given["no_entry"], given["most_boards"], given["most_dry_kg"],
        )  # fmt: skip
        parts = (found.severity, found.place, found.description, found.part, found.restricts)
        return found if any(parts) else None


class StopForm(ActForm, PlacePart):
    description = forms.CharField(
        max_length=2000, label=gettext_lazy("What is wrong"),
        widget=forms.Textarea(attrs={"rows": 3}),
    )  # fmt: skip


class RepairForm(ActForm):
    what = forms.CharField(
        max_length=2000, label=gettext_lazy("What was done"),
        widget=forms.Textarea(attrs={"rows": 3}),
    )  # fmt: skip
    done_by = forms.ChoiceField(label=gettext_lazy("Done or led by"))
    done_at = LocalDateTimeField(label=gettext_lazy("Finished"))
    contractor = forms.CharField(required=False, max_length=400, label=gettext_lazy("Contractor"))
    material = forms.CharField(required=False, max_length=1000, label=gettext_lazy("Material"))
    cost = QuantityField(
        "", 2, required=False, label=gettext_lazy("Cost"),
        help_text=gettext_lazy("In the ground's money."),
    )  # fmt: skip

    def __init__(self, *args: Any, staff: Iterable[Person], **options: Any) -> None:
        super().__init__(*args, **options)
        self.staff = {person.public_id: person for person in staff}
        named = [(key, person.name) for key, person in self.staff.items()]
        self.fields["done_by"].choices = [choose_first(), *named]  # type: ignore[attr-defined]


class VerifyForm(ActForm):
    checked = forms.CharField(
        max_length=2000, label=gettext_lazy("What was checked, and what it showed"),
        widget=forms.Textarea(attrs={"rows": 3}),
    )  # fmt: skip
    holds = forms.ChoiceField(
        choices=[("yes", gettext_lazy("the repair holds")), ("no", gettext_lazy("it does not hold"))],
        widget=forms.RadioSelect, label=gettext_lazy("Result"),
    )  # fmt: skip
    done_at = LocalDateTimeField(label=gettext_lazy("Checked"))


class ReleaseForm(SignatureForm):
    act = "inspections.unit_released"
    meanings = [(RETURN, gettext_lazy("return to service"))]

    statement = forms.CharField(
        max_length=2000, label=gettext_lazy("What you saw, and that it is fit for burning"),
        widget=forms.Textarea(attrs={"rows": 3}),
    )  # fmt: skip
