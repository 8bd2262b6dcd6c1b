"""Forms about meters, readings and decisions on lots."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from facility.look.forms import ActForm, LocalDateTimeField, QuantityField, choose_first, to_decimal
from facility.sites.models import Site
from records.audit.forms import SignatureForm
from records.stock import deciding, selectors
from records.stock.measuring import MOST_READINGS, Dried, Read
from records.stock.rounds import Drawn

SPARE = 3  # rows for boards that nobody drew: a wet corner, one that looks odd


class DayField(forms.DateField):
    def __init__(self, **options: Any) -> None:
        widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
        super().__init__(widget=widget, **options)


class _BoardsForm(ActForm):
    """A row for each board drawn, and some to spare. Where it lies is kept with its reading."""

    read_at = LocalDateTimeField(label=gettext_lazy("Read"))

    def __init__(self, *args: Any, drawn: Sequence[Drawn], needed: int, **options: Any) -> None:
        super().__init__(*args, **options)
        places = [
            _("pack {pack}, board {board}").format(pack=each.pack, board=each.board)
            for each in drawn
        ]
        self.needed = needed
        self.places = (places + [""] * (max(needed - len(places), 0) + SPARE))[:MOST_READINGS]
        for row, place in enumerate(self.places):
            self.fields[f"place_{row}"] = forms.CharField(
                max_length=200, required=False, initial=place, label=_("Board"),
                widget=forms.HiddenInput() if place else forms.TextInput(),
            )  # fmt: skip
            self.fields[f"place_{row}"].widget.attrs["aria-label"] = _("Board {number}").format(
                number=row + 1
            )
            self._offer(row)

    def _offer(self, row: int) -> None:
        raise NotImplementedError

    def _cell(self, name: str, row: int, unit: str, places: int, label: str) -> None:
        field = QuantityField(unit, places, required=False, label=label)
        field.widget.attrs |= {
            "aria-label": _("{heading}, line {number}").format(heading=label, number=row + 1),
            "data-down": name,
        }
        self.fields[f"{name}_{row}"] = field

    def _place(self, row: int) -> str:
        return str(self.cleaned_data.get(f"place_{row}", ""))


class ReadingsForm(_BoardsForm):
    meter = forms.ChoiceField(label=gettext_lazy("Meter"))
    board_temperature_c = QuantityField(
        "degC", 1, required=False, label=gettext_lazy("Temperature of the boards"),
        help_text=gettext_lazy("Where the pins go in. Empty: nothing is corrected for it."),
    )  # fmt: skip

    def __init__(self, *args: Any, site: Site, **options: Any) -> None:
        super().__init__(*args, **options)
        self.meters = {each.public_id: each for each in selectors.meters_of(site)}
        self.fields["meter"].choices = [  # type: ignore[attr-defined]
            choose_first(),
            *((key, selectors.meter_named(each)) for key, each in self.meters.items()),
        ]

    def _offer(self, row: int) -> None:
        self._cell("reading", row, "%", 1, _("Moisture, %"))

    def rows(self) -> list[tuple[Any, Any]]:
        return [(self[f"place_{row}"], self[f"reading_{row}"]) for row in range(len(self.places))]

    def chosen_meter(self) -> Any | None:
        return self.meters.get(self.cleaned_data.get("meter", ""))

    def taken(self) -> list[Read]:
        """What was read so far; rows left empty are no reading."""
        values = ((row, self.cleaned_data.get(f"reading_{row}")) for row in range(len(self.places)))
        return [Read(value, self._place(row)) for row, value in values if value is not None]


class DriedForm(_BoardsForm):
    def _offer(self, row: int) -> None:
        self._cell("wet", row, "g", 2, _("Wet mass, g"))
        self._cell("dry", row, "g", 2, _("Dry mass, g"))

    def rows(self) -> list[tuple[Any, Any, Any]]:
        return [
            (self[f"place_{row}"], self[f"wet_{row}"], self[f"dry_{row}"])
            for row in range(len(self.places))
        ]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        for row in range(len(self.places)):
            wet, dry = given.get(f"wet_{row}"), given.get(f"dry_{row}")
            for name, value, other in (("wet", wet, dry), ("dry", dry, wet)):
                if value is None and other is not None and f"{name}_{row}" not in self.errors:
                    self.add_error(f"{name}_{row}", _("A sample needs both masses."))
        return given

    def taken(self) -> list[Dried]:
        return [
            Dried(wet, self.cleaned_data[f"dry_{row}"], self._place(row))
            for row in range(len(self.places))
            if (wet := self.cleaned_data.get(f"wet_{row}")) is not None
        ]


class PackForm(forms.Form):
    """How many boards lie in a pack, so that the boards drawn can be found."""

    in_a_pack = forms.IntegerField(
        required=False, min_value=1, max_value=1000, label=gettext_lazy("Boards in a pack")
    )


class CalibrateForm(ActForm):
    calibrated_on = DayField(label=gettext_lazy("Calibrated on"))
    due_on = DayField(label=gettext_lazy("Next calibration due"))
    note = forms.CharField(max_length=400, label=gettext_lazy("By whom, or which certificate"))


class MeterForm(CalibrateForm):
    name = forms.CharField(max_length=200, label=gettext_lazy("Name"))
    kind = forms.ChoiceField(
        choices=lambda: [choose_first(), *selectors.METER_KINDS], label=gettext_lazy("Kind")
    )
    mark = forms.CharField(max_length=200, label=gettext_lazy("Serial number or mark"))

    field_order = ["once", "name", "kind", "mark", "calibrated_on", "due_on", "note"]


class CorrectionForm(ActForm):
    product = forms.ChoiceField(label=gettext_lazy("Board"))
    factor = QuantityField("", 3, label=gettext_lazy("Factor"), initial="1")
    points = forms.CharField(
        max_length=40, label=gettext_lazy("Points added"), initial="0",
        widget=forms.TextInput(attrs={"inputmode": "text", "autocomplete": "off"}),
    )  # fmt: skip
    source = forms.CharField(
        max_length=400, label=gettext_lazy("Where it comes from"),
        help_text=gettext_lazy("The maker's table, or the oven-dry samples it was fitted to."),
    )  # fmt: skip

    def __init__(self, *args: Any, site: Site, **options: Any) -> None:
        super().__init__(*args, **options)
        boards = (each for each in selectors.products_of(site) if each.is_board)
        self.products = {each.public_id: each for each in boards}
        self.fields["factor"].shown = "×"  # type: ignore[attr-defined]
        self.fields["product"].choices = [  # type: ignore[attr-defined]
            choose_first(),
            *((key, str(each)) for key, each in self.products.items()),
        ]

    def clean_points(self) -> Decimal:
        return to_decimal(self.cleaned_data["points"], "%", 2)


def _text(label: Any, help_text: Any = "") -> forms.CharField:
    return forms.CharField(
        max_length=1000, label=label, help_text=help_text,
        widget=forms.Textarea(attrs={"rows": 2}),
    )  # fmt: skip


class AcceptForm(SignatureForm):
    act = "stock.lot_accepted"
    meanings = [(deciding.ACCEPTANCE, gettext_lazy("acceptance for burning"))]


class ConditionForm(SignatureForm):
    act = "stock.lot_conditioned"
    meanings = [(deciding.ON_CONDITION, gettext_lazy("acceptance on the condition written here"))]
    condition = _text(
        gettext_lazy("Condition"), gettext_lazy("What must be done or kept when these boards burn.")
    )
    field_order = ["once", "shown_hash", "condition", "meaning", "password"]


class RejectForm(SignatureForm):
    act = "stock.lot_rejected"
    meanings = [(deciding.REJECTION, gettext_lazy("rejection of the lot"))]
    reason = _text(gettext_lazy("Reason"))
    field_order = ["once", "shown_hash", "reason", "meaning", "password"]


class ConfirmForm(SignatureForm):
    act = "stock.verdict_confirmed"
    meanings = [(deciding.SECOND_CHECK, gettext_lazy("second check of this decision"))]


class HoldForm(ActForm):
    reason = _text(gettext_lazy("Reason"))
