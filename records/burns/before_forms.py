"""Forms before a burn: items looked at, the briefing, the roll, the weather, fit to burn."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from facility.kinds import Duty
from facility.look.forms import ActForm, LocalDateTimeField, QuantityField
from records.audit.forms import SignatureForm
from records.burns import readiness
from records.burns.before import FIT, Look


class LookForm(ActForm):
    """The check list: what is open is ticked when it is in order; words without a tick say what
    is not, of an item that was in order before as well."""

    seen_at = LocalDateTimeField(label=gettext_lazy("Looked at"))

    def __init__(self, *args: Any, looked: list[Any], **options: Any) -> None:
        super().__init__(*args, **options)
        self.looked = looked
        for each in looked:
            code = each.item.code
            if each.is_open:
                self.fields[f"item_{code}"] = forms.BooleanField(
                    required=False, label=each.item.text
                )
            self.fields[f"note_{code}"] = forms.CharField(
                max_length=1000, required=False, label=_("What is not in order"),
                widget=forms.TextInput(attrs={"aria-label": _("{item}: what is not in order").format(item=each.item.text)}),
            )  # fmt: skip

    def open_rows(self) -> list[Any]:
        return [row for row in self._rows() if row[1] is not None]

    def done_rows(self) -> list[Any]:
        return [row for row in self._rows() if row[1] is None]

    def _rows(self) -> list[Any]:
        """Each item as it stands, its tick where it is open, and its note."""
        rows = []
        for each in self.looked:
            code = each.item.code
            tick = self[f"item_{code}"] if each.is_open else None
            rows.append((each, tick, self[f"note_{code}"]))
        return rows

    def looks(self) -> dict[str, Look]:
        found, given = {}, self.cleaned_data
        for each in self.looked:
            code = each.item.code
            look = Look(bool(given.get(f"item_{code}")), given[f"note_{code}"])
            if look.in_order or look.note.strip():
                found[code] = look
        return found


class BriefingForm(ActForm):
    given_by = forms.ChoiceField(label=gettext_lazy("Given by"))
    held_at = LocalDateTimeField(label=gettext_lazy("When"))
    people = forms.MultipleChoiceField(
        label=gettext_lazy("Who heard it"), widget=forms.CheckboxSelectMultiple, required=False
    )
    topics = forms.MultipleChoiceField(
        label=gettext_lazy("What was told"), widget=forms.CheckboxSelectMultiple, required=False
    )

    def __init__(
        self, *args: Any, places: list[Any], topics: list[Any], missed: list[Any], **options: Any
    ) -> None:
        super().__init__(*args, **options)
        duties: dict[Any, list[str]] = {}
        for place in places:
            duties.setdefault(place.person, []).append(str(Duty(place.duty).label))
        self.crew = {person.public_id: person for person in duties}
        field: Any = self.fields["people"]
        field.choices = [
            (person.public_id, f"{person.name}, {', '.join(held)}")
            for person, held in duties.items()
        ]
        field.initial = [person.public_id for person in missed]
        giving: Any = self.fields["given_by"]
        giving.choices = [
            (person.public_id, person.name)
            for person, held in duties.items()
            if str(Duty.LEARNER.label) not in held
        ]
        told: Any = self.fields["topics"]
        told.choices = [(each.item.code, each.item.text) for each in topics]
        if not topics:
            del self.fields["topics"]


class RollForm(ActForm):
    """Each place of the plan: the one planned, somebody else, or nobody."""

    def __init__(
        self, *args: Any, planned: list[Any], filled: dict[Any, str], staff: list[Any],
        **options: Any,
    ) -> None:  # fmt: skip
        super().__init__(*args, **options)
        self.planned = planned
        others = [(person.public_id, person.name) for person in staff]
        for number, place in enumerate(planned):
            key = place.person.public_id
            offered = [
                (key, _("{name}, is here").format(name=place.person.name)),
                ("", _("nobody")),
            ]
            if place.duty != Duty.LEARNER:
                offered += [each for each in others if each[0] != key]
            self.fields[f"place_{number}"] = forms.ChoiceField(
                choices=offered, required=False, label=capfirst(place.get_duty_display()),
                initial=filled.get((place.duty, key), key),
            )  # fmt: skip

    def places(self) -> list[Any]:
        return [self[f"place_{number}"] for number, _place in enumerate(self.planned)]

    def here(self) -> dict[tuple[str, str], str]:
        given = (self.cleaned_data[f"place_{number}"] for number, _place in enumerate(self.planned))
        return {
            (place.duty, place.person.public_id): key
            for place, key in zip(self.planned, given, strict=True)
            if key
        }


class WeatherForm(ActForm):
    words = forms.CharField(
        max_length=300, label=gettext_lazy("In words"),
        help_text=gettext_lazy("Such as: dry, light cloud, gusts from the west."),
    )  # fmt: skip
    wind_m_s = QuantityField("m/s", 1, required=False, label=gettext_lazy("Wind"))
    wind_from = forms.ChoiceField(
        choices=lambda: [("", "–"), *readiness.WINDS], required=False,
        label=gettext_lazy("Wind from"),
    )  # fmt: skip
    temperature_c = QuantityField("degC", 1, required=False, label=gettext_lazy("Air temperature"))
    humidity_pct = QuantityField("%", 1, required=False, label=gettext_lazy("Humidity"))
    read_at = LocalDateTimeField(label=gettext_lazy("Read at"))


class FitForm(SignatureForm):
    act = "burns.fit_signed"
    meanings = [(FIT, gettext_lazy("seen, and fit to burn"))]
