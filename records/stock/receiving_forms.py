"""Forms of the lorry: a docket with its lots, and what is looked at as they come in."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from facility.look.forms import (
    ActForm,
    LocalDateTimeField,
    QuantityField,
    to_decimal,
)
from facility.refusals import Refused
from facility.sites.models import Site
from records.ground.selectors import bays_of
from records.pictures.forms import PictureField
from records.stock import selectors
from records.stock.marks import EMISSION_CLASSES, MARKS
from records.stock.receiving import MeasuredSheet
from records.stock.services import LotReceived

LOT_ROWS = 6  # lots on one docket; for more, the docket is recorded in parts: common practice
SIZE = ("length_m", "width_m", "thickness_mm")
ANSWERS = [("no", gettext_lazy("no")), ("seen", gettext_lazy("seen"))]


class CostField(QuantityField):
    """An amount of money; its currency is the ground's own."""

    unit_shown = ""


def mark_fields(row: str = "") -> dict[str, forms.Field]:
    """One question for each mark; none is answered beforehand."""
    return {
        f"mark_{mark.code}{row}": forms.ChoiceField(
            choices=ANSWERS, required=False, widget=forms.RadioSelect, label=mark.words
        )
        for mark in MARKS
    }


class _MarksMixin(forms.Form):
    """Reads the answers to the questions about marks."""

    def answers(self, given: dict[str, Any], row: str = "") -> dict[str, bool]:
        """What was answered; each question left open gets its error."""
        found = {}
        for mark in MARKS:
            name = f"mark_{mark.code}{row}"
            if given.get(name):
                found[mark.code] = given[name] == "seen"
            elif name not in self.errors:
                self.add_error(name, _("Look, and answer no or seen."))
        return found


class DeliveryForm(_MarksMixin, ActForm):
    """A docket with its lots, one below the other."""

    supplier = forms.CharField(
        max_length=200, label=gettext_lazy("Supplier"),
        widget=forms.TextInput(attrs={"list": "suppliers", "autocomplete": "off"}),
    )  # fmt: skip
    docket = forms.CharField(
        max_length=200, label=gettext_lazy("Docket number"),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )  # fmt: skip
    delivered_at = LocalDateTimeField(label=gettext_lazy("Delivered"))
    picture = PictureField(required=False, label=gettext_lazy("Photograph of the docket"))
    untreated = forms.BooleanField(
        required=False, label=gettext_lazy("The docket states new, untreated material")
    )

    def __init__(self, *args: Any, site: Site, **options: Any) -> None:
        super().__init__(*args, **options)
        self.products = {product.public_id: product for product in selectors.products_of(site)}
        self.bays = {bay.public_id: bay for bay in bays_of(site)}
        self._products = [
            ("", gettext_lazy("no lot")),
            *((key, str(each)) for key, each in self.products.items()),
        ]
        self._bays = [("", "–"), *((key, each.name) for key, each in self.bays.items())]
        for row in range(LOT_ROWS):
            self._add_row(f"_{row}")
        self.lots: list[LotReceived] = []
        self._rows: list[int] = []  # where each lot stands on the page

    def _add_row(self, row: str) -> None:
        add = self.fields
        add[f"product{row}"] = forms.ChoiceField(
            choices=self._products, required=False, label=_("Product")
        )
        add[f"code{row}"] = forms.CharField(max_length=200, required=False, label=_("Lot mark"))
        add[f"received{row}"] = forms.CharField(
            max_length=40, required=False, label=_("Received"),
            help_text=_("Boards in whole numbers, kindling in kg, liquid in litres."),
            widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        )  # fmt: skip
        add[f"bay{row}"] = forms.ChoiceField(choices=self._bays, required=False, label=_("Bay"))
        add[f"mill_mark{row}"] = forms.CharField(
            max_length=200, required=False, label=_("Mark of the mill or batch")
        )
        add[f"emission_class{row}"] = forms.ChoiceField(
            choices=[("", _("not stated")), *((each, each) for each in EMISSION_CLASSES)],
            required=False, label=_("Formaldehyde class"),
        )  # fmt: skip
        add[f"unit_cost{row}"] = CostField("", 2, required=False, label=_("Cost each"))
        add[f"length_m{row}"] = QuantityField("m", 3, required=False, label=_("Length measured"))
        add[f"width_m{row}"] = QuantityField("m", 3, required=False, label=_("Width measured"))
        add[f"thickness_mm{row}"] = QuantityField(
            "mm", 2, required=False, label=_("Thickness measured")
        )
        add[f"sheet_mass_kg{row}"] = QuantityField(
            "kg", 2, required=False, label=_("One sheet weighs")
        )
        add.update(mark_fields(row))

    NEEDED = ("product", "code", "received")
    PLAIN = ("bay", "mill_mark", "emission_class", "unit_cost")

    def lot_rows(self) -> list[dict[str, Any]]:
        """What each lot's part of the page shows; ``used`` is what must not be folded away."""
        return [
            {
                "number": row + 1,
                "needed": [self[f"{name}_{row}"] for name in self.NEEDED],
                "plain": [self[f"{name}_{row}"] for name in self.PLAIN],
                "sheet": [self[f"{name}_{row}"] for name in (*SIZE, "sheet_mass_kg")],
                "marks": [(mark, self[f"mark_{mark.code}_{row}"]) for mark in MARKS],
                "used": row == 0 or self._touched(row),
            }
            for row in range(LOT_ROWS)
        ]

    def _touched(self, row: int) -> bool:
        return any(
            self[name].data or name in self.errors
            for name in self.fields
            if name.endswith(f"_{row}")
        )

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        for row in range(LOT_ROWS):
            if lot := self._lot(given, row):
                self.lots.append(lot)
                self._rows.append(row)
        if not self.lots and not self.errors:
            raise ValidationError(_("A delivery has at least one lot: choose its product."))
        return given

    def _lot(self, given: dict[str, Any], row: int) -> LotReceived | None:
        def typed(name: str) -> Any:
            return given.get(f"{name}_{row}")

        product = self.products.get(typed("product") or "")
        if product is None:
            if self._touched(row) and f"product_{row}" not in self.errors:
                self.add_error(f"product_{row}", _("Choose the product of this lot."))
            return None
        if not typed("code"):
            self.add_error(f"code_{row}", _("Give the lot a mark."))
        answers = self.answers(given, f"_{row}")
        received = self._received(product, typed("received"), row)
        sheet = self._sheet(given, row)
        if received is None:
            return None
        return LotReceived(
            product, typed("code") or "", received, self.bays.get(typed("bay") or ""),
            sheet_mass_kg=typed("sheet_mass_kg"), sheet=sheet, unit_cost=typed("unit_cost"),
            mill_mark=typed("mill_mark") or "", emission_class=typed("emission_class") or "",
            marks=answers,
        )  # fmt: skip

    def _received(self, product: Any, text: str | None, row: int) -> Any:
        try:
            received = to_decimal(text, product.counted_in, 2) if text else None
        except ValidationError as refused:
            self.add_error(f"received_{row}", refused)
            return None
        if received is None:
            self.add_error(f"received_{row}", _("How many came?"))
        return received

    def _sheet(self, given: dict[str, Any], row: int) -> MeasuredSheet | None:
        """The sheet, when it was measured; a part of it is refused."""
        names = [f"{name}_{row}" for name in (*SIZE, "sheet_mass_kg")]
        values = [given.get(name) for name in names]
        if all(value is None for value in values[:3]):
            return None
        for name, value in zip(names, values, strict=True):
            if value is None and name not in self.errors:
                self.add_error(name, _("A measured sheet has length, width, thickness and mass."))
        return None if None in values else MeasuredSheet(*values)  # type: ignore[arg-type]

    def refuse(self, refused: Refused) -> None:
        """Show what a lot was refused for beside its own field."""
        if refused.line is not None and refused.line < len(self._rows):
            refused.field = f"{refused.field}_{self._rows[refused.line]}"
        super().refuse(refused)


class DocketPictureForm(ActForm):
    picture = PictureField(label=gettext_lazy("Photograph of the docket"))


class MarksForm(_MarksMixin, ActForm):
    note = forms.CharField(
        required=False, max_length=1000, label=gettext_lazy("Note"),
        help_text=gettext_lazy("Needed when what was seen before is no prohibited mark."),
        widget=forms.Textarea(attrs={"rows": 2}),
    )  # fmt: skip

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields.update(mark_fields())
        self.given: dict[str, bool] = {}

    def marks(self) -> list[Any]:
        return [(mark, self[f"mark_{mark.code}"]) for mark in MARKS]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        self.given = self.answers(given)
        return given


class WeighForm(ActForm):
    length_m = QuantityField("m", 3, label=gettext_lazy("Length measured"))
    width_m = QuantityField("m", 3, label=gettext_lazy("Width measured"))
    thickness_mm = QuantityField("mm", 2, label=gettext_lazy("Thickness measured"))
    sheet_mass_kg = QuantityField("kg", 2, label=gettext_lazy("One sheet weighs"))

    def sheet(self) -> MeasuredSheet:
        return MeasuredSheet(*(self.cleaned_data[name] for name in (*SIZE, "sheet_mass_kg")))


class DensityForm(ActForm):
    reason = forms.CharField(
        max_length=1000, label=gettext_lazy("Why the lot is taken all the same"),
        widget=forms.Textarea(attrs={"rows": 3}),
    )  # fmt: skip
