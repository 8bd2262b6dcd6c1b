"""Forms of the store."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from facility.calc.constants import WOOD_NET_CALORIFIC_DRY
from facility.look.forms import (
    ActForm,
    LocalDateTimeField,
    QuantityField,
    ReadingsField,
    choose_first,
    name_cells,
    to_decimal,
)  # fmt: skip
from facility.sites.models import Site
from records.ground.selectors import bays_of
from records.stock import selectors
from records.stock.services import LotReceived, Sheet

LOT_ROWS = 4


class ProductForm(ActForm):
    name = forms.CharField(max_length=200, label=gettext_lazy("Name"))
    kind = forms.ChoiceField(
        choices=lambda: [choose_first(), *selectors.PRODUCT_KINDS], label=gettext_lazy("Kind")
    )
    standard_class = forms.CharField(
        required=False, max_length=200, label=gettext_lazy("Standard and class"),
        help_text=gettext_lazy("As on the docket, such as EN 312 P2."),
    )  # fmt: skip
    length_m = QuantityField("m", 3, required=False, label=gettext_lazy("Length"))
    width_m = QuantityField("m", 3, required=False, label=gettext_lazy("Width"))
    thickness_mm = QuantityField("mm", 2, required=False, label=gettext_lazy("Thickness"))
    density_kg_m3 = QuantityField("kg/m3", 1, required=False, label=gettext_lazy("Density"))
    density_moisture_pct = QuantityField(
        "%", 2, required=False, label=gettext_lazy("Moisture at that density"),
        help_text=gettext_lazy("Percent of dry mass; 0 for oven-dry."),
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
        return given


class DeliveryForm(ActForm):
    """A docket with up to four lots."""

    supplier = forms.CharField(
        max_length=200, label=gettext_lazy("Supplier"),
        widget=forms.TextInput(attrs={"list": "suppliers", "autocomplete": "off"}),
    )  # fmt: skip
    docket = forms.CharField(max_length=200, label=gettext_lazy("Docket number"))
    delivered_at = LocalDateTimeField(label=gettext_lazy("Delivered"))
    untreated = forms.BooleanField(
        required=False,
        label=gettext_lazy(
            "The docket states new, untreated material; no paint, film or preservative seen"
        ),
    )

    def __init__(self, *args: Any, site: Site, **options: Any) -> None:
        super().__init__(*args, **options)
        self.products = {product.public_id: product for product in selectors.products_of(site)}
        self.bays = {bay.public_id: bay for bay in bays_of(site)}
        products = [
            ("", gettext_lazy("no lot")),
            *((key, str(each)) for key, each in self.products.items()),
        ]
        bays = [("", "–"), *((key, each.name) for key, each in self.bays.items())]
        for row in range(LOT_ROWS):
            self.fields[f"product_{row}"] = forms.ChoiceField(choices=products, required=False)
            self.fields[f"code_{row}"] = forms.CharField(max_length=200, required=False)
            self.fields[f"received_{row}"] = forms.CharField(max_length=40, required=False)
            self.fields[f"bay_{row}"] = forms.ChoiceField(choices=bays, required=False)
            self.fields[f"mass_{row}"] = QuantityField("kg", 2, required=False)
            name_cells(
                self, row, product=_("Product"), code=_("Lot mark"), received=_("Received"),
                bay=_("Bay"), mass=_("One sheet weighs, kg"),
            )  # fmt: skip

    def lot_rows(self) -> list[dict[str, Any]]:
        return [
            {name: self[f"{name}_{row}"] for name in ("product", "code", "received", "bay", "mass")}
            for row in range(LOT_ROWS)
        ]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        self.lots = [lot for row in range(LOT_ROWS) if (lot := self._lot(given, row))]
        if not self.lots and not self.errors:
            raise ValidationError(_("A delivery has at least one lot: choose its product."))
        return given

    def _lot(self, given: dict[str, Any], row: int) -> LotReceived | None:
        product = self.products.get(given.get(f"product_{row}", ""))
        code, text = given.get(f"code_{row}", ""), given.get(f"received_{row}", "")
        if product is None:
            if code or text:
                self.add_error(f"product_{row}", _("Choose the product of this lot."))
            return None
        if not code:
            self.add_error(f"code_{row}", _("Give the lot a mark."))
        try:
            received = to_decimal(text, product.counted_in, 2) if text else None
        except ValidationError as refused:
            self.add_error(f"received_{row}", refused)
            return None
        if received is None:
            self.add_error(f"received_{row}", _("How many came?"))
            return None
        bay = self.bays.get(given.get(f"bay_{row}", ""))
        return LotReceived(product, code, received, bay, given.get(f"mass_{row}"))


class ReadingsForm(ActForm):
    readings = ReadingsField(
        label=gettext_lazy("Readings, one board each"),
        help_text=gettext_lazy("Percent of dry mass. One to a line; Enter goes on to the next."),
    )
    meter = forms.CharField(max_length=200, label=gettext_lazy("Meter"), initial="pin meter 2")
    read_at = LocalDateTimeField(label=gettext_lazy("Read"))


class VerdictForm(ActForm):
    verdict = forms.ChoiceField(
        choices=list(selectors.DECISIONS.items()),
        widget=forms.RadioSelect, label=gettext_lazy("Decision"),
    )  # fmt: skip
    reason = forms.CharField(
        required=False, max_length=1000, label=gettext_lazy("Reason"),
        help_text=gettext_lazy("Needed to hold a lot."),
        widget=forms.Textarea(attrs={"rows": 2}),
    )  # fmt: skip


class AdjustForm(ActForm):
    counted = QuantityField("", 2, label=gettext_lazy("Counted now"))
    reason = forms.CharField(
        max_length=1000, label=gettext_lazy("Reason"), widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(self, *args: Any, unit: str, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["counted"].unit = unit  # type: ignore[attr-defined]


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
