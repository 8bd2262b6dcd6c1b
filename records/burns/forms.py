"""Forms at the unit: the check before, events, closing, correcting, returning boards."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any, cast

from django import forms
from django.http import QueryDict
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from facility.kinds import Duty
from facility.look.forms import ActForm, LocalDateTimeField, QuantityField, choose_first
from facility.refusals import plain_number
from records.audit.forms import SignatureForm
from records.burns import aftermath, selectors
from records.burns.closing import CLOSES, After, Exposed
from records.inspections.checklists import POST_BURN
from records.inspections.forms import CheckForm, DefectPart


class StartForm(CheckForm):
    """The last look: what was marked before is not asked again, nor who is there where the roll
    was called."""

    ignited_at = LocalDateTimeField(label=gettext_lazy("Ignition"))
    ignition_method = forms.CharField(
        max_length=200, label=gettext_lazy("Lit with"), initial=gettext_lazy("gas burner")
    )
    weather = forms.CharField(max_length=300, label=gettext_lazy("Weather"))
    present = forms.MultipleChoiceField(
        label=gettext_lazy("Present"), widget=forms.CheckboxSelectMultiple, required=False
    )

    def __init__(
        self, *args: Any, crew: list[Any], looked: list[Any], called: bool,
        methods: Sequence[str] = (), **options: Any,
    ) -> None:  # fmt: skip
        """``methods`` are those the standard allows; where it names none, any may be written."""
        super().__init__(*args, **options)
        self.add_items(each.item.text for each in looked if each.is_open)
        self.blocks = {each.item.text for each in looked if each.item.blocks}
        if methods:
            self.fields["ignition_method"] = forms.ChoiceField(
                label=_("Lit with"), choices=[(word, _(word)) for word in methods]
            )
        duties: dict[str, list[str]] = {}
        names: dict[str, str] = {}
        for place in crew:
            duties.setdefault(place.person.public_id, []).append(str(Duty(place.duty).label))
            names[place.person.public_id] = place.person.name
        self.fields["present"].choices = [  # type: ignore[attr-defined]
            (key, f"{names[key]}, {', '.join(held)}") for key, held in duties.items()
        ]
        self.fields["present"].initial = list(duties)
        if called:
            del self.fields["present"]

    def checks(self) -> dict[str, bool]:
        """What was ticked, and what was not though it blocks; the rest was not looked at."""
        seen = super().checks()
        return {item: ticked for item, ticked in seen.items() if ticked or item in self.blocks}


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


class AfterPart(SignatureForm):
    """Water, unburnt wood, how long each person was exposed and where; and the signature on it.

    What is signed is what is typed here, so there is no hash of something shown before.
    """

    meanings = [(CLOSES, gettext_lazy("closed as it happened"))]

    water_l = QuantityField("L", 1, required=False, label=gettext_lazy("Water used"))
    unburnt_kg = QuantityField(
        "kg", 1, required=False, label=gettext_lazy("Unburnt wood left in the unit")
    )

    def add_people(
        self, people: list[tuple[Any, str]], stays: Mapping[Any, Any], inside: Mapping[str, int]
    ) -> None:
        """``people`` with their duties; ``stays`` are those of the report before, by person, and
        ``inside`` the minutes that the entry board counted, by public id."""
        del self.fields["shown_hash"]
        self.people, self.stays = people, stays
        for person, duties in people:
            key, stay = person.public_id, stays.get(person)
            self.fields[f"minutes_{key}"] = forms.IntegerField(
                required=False, min_value=0, max_value=1440, label=f"{person.name}, {duties}",
                initial=stay.minutes if stay else inside.get(key),
            )  # fmt: skip
            self.fields[f"position_{key}"] = forms.ChoiceField(
                choices=[("", _("as usual")), *aftermath.POSITIONS], required=False,
                label=_("Where"), initial=stay and stay.position,
            )  # fmt: skip
            for name, what in (("minutes", _("minutes exposed")), ("position", _("where"))):
                self.fields[f"{name}_{key}"].widget.attrs["aria-label"] = f"{person.name}, {what}"

    def people_fields(self) -> list[Any]:
        return [
            (
                person,
                duties,
                self[f"minutes_{person.public_id}"],
                self[f"position_{person.public_id}"],
            )
            for person, duties in self.people
        ]

    def after(self) -> After:
        given = self.cleaned_data
        exposed = {
            key: Exposed(given[f"minutes_{key}"], given[f"position_{key}"])
            for person, _duties in self.people
            for key in (person.public_id,)
        }
        return After(given["water_l"], given["unburnt_kg"], exposed)


class CloseForm(UsedPart, CheckForm, DefectPart, AfterPart):
    act = "burns.burn_closed"
    field_order = []  # as the page has them

    def __init__(
        self, *args: Any, lots: list[tuple[Any, Decimal]], people: list[Any],
        inside: Mapping[str, int], **options: Any,
    ) -> None:  # fmt: skip
        super().__init__(*args, **options)
        self.add_lots(lots)
        self.add_items(POST_BURN)
        self.add_people(people, {}, inside)


class CorrectForm(UsedPart, AfterPart):
    act = "burns.burn_corrected"
    field_order = []  # as the page has them

    seen_report = forms.IntegerField(widget=forms.HiddenInput)
    why = forms.CharField(
        max_length=1000, label=gettext_lazy("Why the record is corrected"),
        widget=forms.Textarea(attrs={"rows": 2}),
    )  # fmt: skip

    def __init__(
        self, *args: Any, lots: list[tuple[Any, Decimal]], people: list[Any],
        stays: Mapping[Any, Any], **options: Any,
    ) -> None:  # fmt: skip
        super().__init__(*args, **options)
        self.add_lots(lots)
        self.add_people(people, stays, {})

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
