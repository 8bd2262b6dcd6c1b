"""Forms of the store."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from facility.calc.constants import WOOD_NET_CALORIFIC_DRY
from facility.look.forms import (
    ActForm,
    QuantityField,
    choose_first,
)  # fmt: skip
from records.stock import selectors
from records.stock.marks import LOCAL, classes_to_choose
from records.stock.services import Sheet


class ProductForm(ActForm):
    name = forms.CharField(max_length=200, label=gettext_lazy("Name"))
    kind = forms.ChoiceField(
        choices=lambda: [choose_first(), *selectors.PRODUCT_KINDS], label=gettext_lazy("Kind")
    )
    standard_class = forms.ChoiceField(
        required=False, choices=classes_to_choose, label=gettext_lazy("Standard and class")
    )
    local_class = forms.CharField(
        required=False, max_length=200, label=gettext_lazy("Another standard or class"),
        help_text=gettext_lazy("As on the docket, where the list above does not have it."),
    )  # fmt: skip
    length_m = QuantityField("m", 3, required=False, label=gettext_lazy("Length"))
    width_m = QuantityField("m", 3, required=False, label=gettext_lazy("Width"))
    thickness_mm = QuantityField("mm", 2, required=False, label=gettext_lazy("Thickness"))
    density_kg_m3 = QuantityField("kg/m3", 1, required=False, label=gettext_lazy("Density"))
    density_moisture_pct = QuantityField(
        "%", 2, required=False, label=gettext_lazy("Moisture at that density"),
        help_text=gettext_lazy("Percent of dry mass; 0 for oven-dry."),
    )  # fmt: skip
    density_band_pct = QuantityField(
        "%", 1, required=False, label=gettext_lazy("A sheet may differ from that density by"),
        help_text=gettext_lazy("Left empty, by 10 % either way."),
    )  # fmt: skip
    net_calorific_dry_mj_kg = QuantityField(
        "MJ/kg", 2, label=gettext_lazy("Net calorific value, dry"), initial=f"{WOOD_NET_CALORIFIC_DRY}",
        help_text=gettext_lazy("17.5 MJ/kg for wood: EN 1991-1-2, Table E.3."),
    )  # fmt: skip
    calorific_source = forms.CharField(max_length=200, label=gettext_lazy("Source of that value"))

    SHEET = ("length_m", "width_m", "thickness_mm", "density_kg_m3", "density_moisture_pct")

    def sheet(self) -> Sheet | None:
        """The sheet, when any of it was given; a part of it is refused."""
        given = [self.cleaned_data.get(name) for name in self.SHEET]
        return Sheet(*given) if None not in given else None  # type: ignore[arg-type]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        missing = [name for name in self.SHEET if given.get(name) is None]
        if 0 < len(missing) < len(self.SHEET):
            for name in missing:
                if name not in self.errors:
                    self.add_error(name, _("A board needs all five of these."))
        self._choose_class(given)
        return given

    def _choose_class(self, given: dict[str, Any]) -> None:
        """A class that the list does not have is typed in, and only then."""
        typed, chosen = given.get("local_class", ""), given.get("standard_class")
        if typed and chosen != LOCAL:
            self.add_error(
                "standard_class", _("Choose “another one” for a class that is typed in.")
            )
        if chosen == LOCAL and not typed and "local_class" not in self.errors:
            self.add_error("local_class", _("Type the standard and class."))
        if chosen == LOCAL:
            given["standard_class"] = typed


class ReorderForm(ActForm):
    """How a product is ordered."""

    lead_days = QuantityField(
        "day", 1, label=gettext_lazy("Lead time"),
        help_text=gettext_lazy("From the order to the lorry in the yard, as a rule. The days until boards are accepted are added from the record."),
    )  # fmt: skip
    spread_days = QuantityField(
        "day", 1, label=gettext_lazy("How far that strays"),
        help_text=gettext_lazy("Two orders of three come within this many days of it, early or late."),
    )  # fmt: skip
    service_pct = QuantityField(
        "%", 1, label=gettext_lazy("Orders that come in time"),
        help_text=gettext_lazy("50 to 99.9 %. More means more boards kept against bad luck."),
    )  # fmt: skip
    multiple = QuantityField("", 2, label=gettext_lazy("Ordered in multiples of"))
    lasts_days = QuantityField("day", 1, label=gettext_lazy("An order is to last"))

    def __init__(self, *args: Any, unit: str, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["multiple"].unit = unit  # type: ignore[attr-defined]


class StoreFileForm(ActForm):
    """A file, what stands for a missing column, and what its columns were said to be."""

    file = forms.FileField(
        label=gettext_lazy("File"), allow_empty_file=True,
        help_text=gettext_lazy("CSV in UTF-8 or XLSX; the first row names the columns."),
    )  # fmt: skip
    supplier = forms.CharField(
        required=False, max_length=80, label=gettext_lazy("Supplier"),
        help_text=gettext_lazy("When the whole file is one supplier's; its columns are remembered."),
    )  # fmt: skip
    reason = forms.CharField(
        required=False, max_length=300, label=gettext_lazy("Reason"),
        help_text=gettext_lazy("For every count that differs, unless its row says another."),
    )  # fmt: skip

    def __init__(self, *args: Any, kind: str, **options: Any) -> None:
        super().__init__(*args, **options)
        self.kind = kind
        for name, of in (("supplier", "deliveries"), ("reason", "counts")):
            if kind != of:
                del self.fields[name]

    def chosen(self) -> dict[str, str]:
        """What was chosen for each heading; the headings come along, for the file may be another."""
        found = {}
        for name, text in self.data.items():
            place = name.removeprefix("heading_")
            if place != name and place.isdigit():
                found[str(text)] = str(self.data.get(f"column_{place}", ""))
        return found
