"""Forms of the stocktake."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy

from facility.look.forms import ActForm, LocalDateTimeField, QuantityField, to_decimal
from facility.sites.models import Bay, Site
from records.audit.forms import SignatureForm
from records.ground.selectors import bays_of
from records.stock.counting import APPROVES, SIGNS, Count
from records.stock.moving_forms import reason_field

ALL = "all"


class StocktakeForm(ActForm):
    bays = forms.MultipleChoiceField(
        label=gettext_lazy("What is counted"), widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, *args: Any, site: Site, **options: Any) -> None:
        super().__init__(*args, **options)
        self.by_key = {bay.public_id: bay for bay in bays_of(site)}
        names = ((key, each.name) for key, each in self.by_key.items())
        self.fields["bays"].choices = [(ALL, gettext_lazy("the whole store")), *names]  # type: ignore[attr-defined]

    def chosen(self) -> list[Bay]:
        """The bays; none means all of them."""
        given = self.cleaned_data["bays"]
        return [] if ALL in given else [self.by_key[key] for key in given]


class CountForm(ActForm):
    """One row for each lot that is not signed for yet; a row left empty stays open.

    It knows nothing of what is on record, so that no page of it can show it.
    """

    counted_at = LocalDateTimeField(label=gettext_lazy("Counted"))

    def __init__(self, *args: Any, lines: Sequence[Any], **options: Any) -> None:
        super().__init__(*args, **options)
        self.lines = {line.lot.public_id: line for line in lines}
        for row, (key, line) in enumerate(self.lines.items()):
            self.fields[f"lot_{row}"] = forms.CharField(initial=key, widget=forms.HiddenInput)
            self.fields[f"counted_{row}"] = forms.CharField(
                max_length=40, required=False,
                initial="" if line.counted is None else f"{line.counted.normalize():f}",
                label=gettext_lazy("Counted, lot {lot}").format(lot=line.lot.code),
            )  # fmt: skip
            self.fields[f"reason_{row}"] = forms.CharField(
                max_length=1000, required=False, initial=line.reason,
                label=gettext_lazy("Remark, lot {lot}").format(lot=line.lot.code),
            )  # fmt: skip
            for name in ("counted", "reason"):
                field = self.fields[f"{name}_{row}"]
                field.widget.attrs.update({"aria-label": field.label, "autocomplete": "off"})
            self.fields[f"counted_{row}"].widget.attrs["inputmode"] = "decimal"

    def rows(self) -> list[dict[str, Any]]:
        return [
            {"line": line, "lot": self[f"lot_{row}"], "counted": self[f"counted_{row}"],
             "reason": self[f"reason_{row}"]}
            for row, line in enumerate(self.lines.values())
        ]  # fmt: skip

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        self.counts: list[Count] = []
        for row in range(len(self.lines)):
            line = self.lines.get(given.get(f"lot_{row}", ""))
            text = given.get(f"counted_{row}", "")
            if line is None:
                self.add_error(f"counted_{row}", gettext_lazy("This lot is not open for a count."))
            elif text:
                try:
                    counted: Decimal = to_decimal(text, line.lot.product.counted_in, 2)
                except ValidationError as refused:
                    self.add_error(f"counted_{row}", refused)
                else:
                    self.counts.append(Count(line.lot, counted, given.get(f"reason_{row}", "")))
        return given


class SignCountForm(SignatureForm):
    act = "stock.stocktake_signed"
    meanings = [(SIGNS, gettext_lazy("counted as written, for the record to follow"))]


class ApproveCountForm(SignatureForm):
    act = "stock.stocktake_approved"
    meanings = [
        (APPROVES, gettext_lazy("differences over the set threshold, looked into and approved"))
    ]


class AdjustForm(SignatureForm):
    act = "stock.stock_adjusted"
    meanings = SignCountForm.meanings

    counted = QuantityField("", 2, label=gettext_lazy("Counted now"))
    reason = reason_field()

    field_order = ["once", "shown_hash", "counted", "reason", "meaning", "password"]

    def __init__(self, *args: Any, unit: str, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["counted"].unit = unit  # type: ignore[attr-defined]


class LimitsForm(ActForm):
    over_pct = QuantityField("%", 2, label=gettext_lazy("Off by more than"))
    over_value = forms.DecimalField(
        max_digits=9, decimal_places=2, label=gettext_lazy("Or worth more than"),
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )  # fmt: skip
