"""Forms for moving, splitting, cutting and scrapping, and the period of the values."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from facility.look.forms import ActForm, QuantityField, choose_first
from facility.sites.models import Bay, Site
from records.ground.selectors import bays_of
from records.stock.cutting import Pattern


def reason_field(*, required: bool = True) -> forms.CharField:
    return forms.CharField(
        required=required, max_length=1000, label=gettext_lazy("Reason"),
        widget=forms.Textarea(attrs={"rows": 2}),
    )  # fmt: skip


class _InBay(ActForm):
    """A form with a bay of the ground; ``bay`` is the one chosen."""

    bay_needed = True

    bay = forms.ChoiceField(label=gettext_lazy("Bay"))

    def __init__(self, *args: Any, site: Site, **options: Any) -> None:
        super().__init__(*args, **options)
        self.bays = {bay.public_id: bay for bay in bays_of(site)}
        first = choose_first() if self.bay_needed else ("", gettext_lazy("where the lot lies"))
        names = ((key, each.name) for key, each in self.bays.items())
        field = self.fields["bay"]
        field.choices, field.required = [first, *names], self.bay_needed  # type: ignore[attr-defined]

    def chosen(self) -> Bay | None:
        return self.bays.get(self.cleaned_data.get("bay", ""))


class CarryForm(_InBay):
    reason = reason_field(required=False)

    field_order = ["once", "bay", "reason"]


class SplitForm(_InBay):
    quantity = QuantityField("", 2, label=gettext_lazy("How much is split off"))
    code = forms.CharField(max_length=200, label=gettext_lazy("Mark of the new lot"))
    reason = reason_field(required=False)

    field_order = ["once", "quantity", "code", "bay", "reason"]

    def __init__(self, *args: Any, unit: str, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["quantity"].unit = unit  # type: ignore[attr-defined]


class CutForm(_InBay):
    bay_needed = False

    sheets = QuantityField("", 2, label=gettext_lazy("Sheets to cut"))
    piece_length_m = QuantityField("m", 3, label=gettext_lazy("Length of a piece, along the sheet"))
    piece_width_m = QuantityField("m", 3, label=gettext_lazy("Width of a piece, across"))
    kerf_mm = QuantityField(
        "mm", 2, label=gettext_lazy("Kerf of the saw"), initial="3",
        help_text=gettext_lazy("Wood that one cut takes. With a kerf, two halves do not fit."),
    )  # fmt: skip
    code = forms.CharField(max_length=200, label=gettext_lazy("Mark of the lot of pieces"))
    keep_offcuts = forms.BooleanField(
        required=False,
        label=gettext_lazy("Keep the off-cuts as lots of their own (strips of 0.1 m and wider)"),
    )

    field_order = [
        "once", "sheets", "piece_length_m", "piece_width_m", "kerf_mm", "code", "bay", "keep_offcuts",
    ]  # fmt: skip

    def pattern(self) -> Pattern:
        given = self.cleaned_data
        return Pattern(given["piece_length_m"], given["piece_width_m"], given["kerf_mm"])


class ScrapForm(ActForm):
    quantity = QuantityField("", 2, label=gettext_lazy("How much is thrown away"))
    reason = reason_field()

    def __init__(self, *args: Any, unit: str, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["quantity"].unit = unit  # type: ignore[attr-defined]


class ValuesForm(forms.Form):
    """From and to; what is left out or makes no sense falls back to this year so far."""

    start = forms.DateField(
        required=False, label=gettext_lazy("From"),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )  # fmt: skip
    end = forms.DateField(
        required=False, label=gettext_lazy("To"),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )  # fmt: skip

    def period(self, today: dt.date) -> tuple[dt.date, dt.date]:
        """First and last day; nothing earlier than a century ago or later than next year."""
        self.is_valid()
        given = getattr(self, "cleaned_data", {})
        earliest, latest = today - dt.timedelta(days=36_500), today + dt.timedelta(days=366)
        end = min(max(given.get("end") or today, earliest), latest)
        start = min(max(given.get("start") or end.replace(month=1, day=1), earliest), latest)
        return (start, end) if start <= end else (end, start)
