"""Forms at the unit: the check before, events, closing, correcting, returning boards."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any, cast

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from facility.look.forms import ActForm, LocalDateTimeField, QuantityField, choose_first
from facility.refusals import plain_number
from records.burns import selectors
from records.inspections.checklists import POST_BURN, PRE_BURN
from records.inspections.forms import CheckForm, DefectPart


class StartForm(CheckForm):
    ignited_at = LocalDateTimeField(label=gettext_lazy("Ignition"))
    ignition_method = forms.CharField(
        max_length=200, label=gettext_lazy("Lit with"), initial=gettext_lazy("gas burner")
    )
    weather = forms.CharField(max_length=300, label=gettext_lazy("Weather"))
    present = forms.MultipleChoiceField(
        label=gettext_lazy("Present"), widget=forms.CheckboxSelectMultiple, required=False
    )

    def __init__(
        self, *args: Any, crew: list[Any], methods: Sequence[str] = (), **options: Any
    ) -> None:
        """``methods`` are those the standard allows; where it names none, any may be written."""
        super().__init__(*args, **options)
        self.add_items(PRE_BURN)
        if methods:
            self.fields["ignition_method"] = forms.ChoiceField(
                label=_("Lit with"), choices=[(word, _(word)) for word in methods]
            )
        duties: dict[str, list[str]] = {}
        names: dict[str, str] = {}
        for place in crew:
            duties.setdefault(place.person.public_id, []).append(str(place.get_duty_display()))
            names[place.person.public_id] = place.person.name
        self.fields["present"].choices = [  # type: ignore[attr-defined]
            (key, f"{names[key]}, {', '.join(held)}") for key, held in duties.items()
        ]
        self.fields["present"].initial = list(duties)


class EventForm(ActForm):
    kind = forms.ChoiceField(choices=lambda: selectors.EVENT_KINDS, label=gettext_lazy("What"))
    stage = forms.ChoiceField(
        choices=lambda: [choose_first(), *selectors.STAGES], required=False,
        label=gettext_lazy("Stage"),
    )  # fmt: skip
    height_m = QuantityField(
        "m", 2, required=False, label=gettext_lazy("Neutral plane above floor")
    )
    opening = forms.CharField(max_length=10, required=False, label=gettext_lazy("Opening"))
    note = forms.CharField(max_length=1000, required=False, label=gettext_lazy("Note"))
    happened_at = LocalDateTimeField(required=False, label=gettext_lazy("When, if not now"))


class UsedPart(ActForm):
    """How much of each issued lot burned."""

    ended_at = LocalDateTimeField(label=gettext_lazy("Fire out"))
    note = forms.CharField(
        required=False, max_length=2000, label=gettext_lazy("Note"),
        widget=forms.Textarea(attrs={"rows": 2}),
    )  # fmt: skip

    def add_lots(self, lots: list[tuple[Any, Decimal]]) -> None:
        self.lots = lots
        for lot, quantity in lots:
            self.fields[f"used_{lot.public_id}"] = QuantityField(
                lot.product.counted_in, 2, initial=plain_number(quantity),
                label=f"{lot.code}, {lot.product}",
            )  # fmt: skip

    def used_fields(self) -> list[Any]:
        return [self[f"used_{lot.public_id}"] for lot, _quantity in self.lots]

    def used(self) -> dict[str, Decimal]:
        return {
            lot.public_id: self.cleaned_data[f"used_{lot.public_id}"]
            for lot, _quantity in self.lots
        }


class CloseForm(UsedPart, CheckForm, DefectPart):
    def __init__(self, *args: Any, lots: list[tuple[Any, Decimal]], **options: Any) -> None:
        super().__init__(*args, **options)
        self.add_lots(lots)
        self.add_items(POST_BURN)


class CorrectForm(UsedPart):
    seen_report = forms.IntegerField(widget=forms.HiddenInput)
    why = forms.CharField(
        max_length=1000, label=gettext_lazy("Why the record is corrected"),
        widget=forms.Textarea(attrs={"rows": 2}),
    )  # fmt: skip

    def __init__(self, *args: Any, lots: list[tuple[Any, Decimal]], **options: Any) -> None:
        super().__init__(*args, **options)
        self.add_lots(lots)

    def used_by_lot(self) -> dict[Any, Decimal]:
        return {lot: self.cleaned_data[f"used_{lot.public_id}"] for lot, _left in self.lots}

    def have_seen(self, number: int) -> None:
        """The next sending knows of this report."""
        data = cast(QueryDict, self.data).copy()
        data["seen_report"] = str(number)
        self.data = data


class ReturnForm(ActForm):
    lot = forms.ChoiceField(label=gettext_lazy("Lot"))
    quantity = QuantityField("", 2, label=gettext_lazy("Came back"))
    returned_at = LocalDateTimeField(label=gettext_lazy("When"))

    def __init__(self, *args: Any, out: list[Any], **options: Any) -> None:
        super().__init__(*args, **options)
        self.out = {each.lot.public_id: each for each in out}
        self.fields["lot"].choices = [  # type: ignore[attr-defined]
            (key, f"{each.lot.code}, {each.lot.product}: {plain_number(each.quantity)}")
            for key, each in self.out.items()
        ]
