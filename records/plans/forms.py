"""Forms about plans. They read what was typed; the services decide what is allowed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any, cast

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from facility.look.forms import (
    ActForm,
    LocalDateTimeField,
    QuantityField,
    choose_first,
    name_cells,
    to_decimal,
)  # fmt: skip
from facility.people import selectors as people
from facility.people.models import Person
from facility.refusals import Refused, plain_number
from facility.rules.facts import DATE, WORD, YES_NO, Fact
from facility.rules.facts import REGISTER as FACTS
from facility.sites.models import Exercise, Site
from records.audit.forms import SignatureForm
from records.ground.selectors import units_with_positions
from records.plans import selectors
from records.plans.content import Line, Place, PlanContent
from records.plans.judging import asked_in_plans
from records.plans.services import MOST_LINES
from records.stock import selectors as stock

LINE_ROWS = MOST_LINES
LINE_CELLS = ("position", "product", "lot", "quantity")
SINGLE = selectors.SINGLE_DUTIES


class PlanForm(ActForm):
    """One plan. Choices are the ground's own, so another ground's id is no choice at all."""

    seen_version = forms.IntegerField(required=False, widget=forms.HiddenInput)
    unit = forms.ChoiceField(label=gettext_lazy("Unit"))
    exercise = forms.ChoiceField(
        label=gettext_lazy("Exercise"), choices=lambda: [choose_first(), *Exercise.choices]
    )
    starts_at = LocalDateTimeField(label=gettext_lazy("Start"))
    ends_at = LocalDateTimeField(label=gettext_lazy("End"))
    water_l = QuantityField("L", 0, label=gettext_lazy("Water on site"))
    objective = forms.CharField(
        max_length=1000, label=gettext_lazy("Objective"), widget=forms.Textarea(attrs={"rows": 2})
    )
    abort_criteria = forms.CharField(
        max_length=2000, label=gettext_lazy("Stop when"), widget=forms.Textarea(attrs={"rows": 3})
    )
    crew = forms.MultipleChoiceField(
        required=False, label=gettext_lazy("Crew instructors"), widget=forms.CheckboxSelectMultiple
    )
    learners = forms.MultipleChoiceField(
        required=False, label=gettext_lazy("Learners"), widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, *args: Any, site: Site, today: dt.date, **options: Any) -> None:
        super().__init__(*args, **options)
        self.site = site
        self._offer_statements(today)
        self.units = {unit.public_id: unit for unit in units_with_positions(site)}
        self.positions = {
            place.public_id: place for unit in self.units.values() for place in unit.positions.all()
        }
        self.products = {each.public_id: each for each in stock.products_of(site)}
        self.lots = {lot.public_id: lot for lot in stock.burnable_lots(site)}
        self._offer_units()
        self._offer_people(list(people.crew_on(site, today)), people.learners_on(site, today))
        self._offer_lines()

    def _offer_units(self) -> None:
        units = [(key, str(unit)) for key, unit in self.units.items()]
        self.fields["unit"].choices = [choose_first(), *units]  # type: ignore[attr-defined]

    def _offer_people(self, staff: list[Person], courses: list[tuple[str, list[Person]]]) -> None:
        self.people = {person.public_id: person for person in staff}
        self.people |= {each.public_id: each for _course, group in courses for each in group}
        named = [(person.public_id, person.name) for person in staff]
        for duty, label in SINGLE.items():
            self.fields[duty] = forms.ChoiceField(
                label=capfirst(label), required=False, choices=[("", "–"), *named]
            )
        self.fields["crew"].choices = [  # type: ignore[attr-defined]
            (person.public_id, person.name) for person in staff if person.competences.all()
        ]
        self.fields["learners"].choices = [  # type: ignore[attr-defined]
            (course, [(each.public_id, each.name) for each in group]) for course, group in courses
        ]

    def _offer_lines(self) -> None:
        places = [
            ("", "–"),
            *(
                (unit.name, [(place.public_id, place.name) for place in unit.positions.all()])
                for unit in self.units.values()
            ),
        ]
        products = [("", "–"), *((key, str(each)) for key, each in self.products.items())]
        oldest = {lot.product_id: key for key, lot in reversed(self.lots.items())}
        lots: list[tuple[str, Any]] = [("", gettext_lazy("the store chooses"))]
        for key, lot in self.lots.items():
            named = f"{lot.code}, {lot.product}"
            first = oldest[lot.product_id] == key
            lots.append((key, _("{lot}, the oldest").format(lot=named) if first else named))
        for row in range(LINE_ROWS):
            self.fields[f"position_{row}"] = forms.ChoiceField(choices=places, required=False)
            self.fields[f"product_{row}"] = forms.ChoiceField(choices=products, required=False)
            self.fields[f"lot_{row}"] = forms.ChoiceField(choices=lots, required=False)
            self.fields[f"quantity_{row}"] = forms.CharField(max_length=40, required=False)
            self.fields[f"quantity_{row}"].widget.attrs["inputmode"] = "decimal"
            name_cells(
                self, row, position=_("Position"), product=_("Fuel"), lot=_("Lot"),
                quantity=_("Boards, kg or L"),
            )  # fmt: skip

    def _offer_statements(self, today: dt.date) -> None:
        """What the standard asks of every burn and no record can tell: the author states it."""
        self.asked = asked_in_plans(self.site, today)
        for fact in self.asked:
            self.fields[stated_field(fact)] = _statement_field(fact)

    def statements(self) -> list[Any]:
        return [self[stated_field(fact)] for fact in self.asked]

    def _stated(self) -> tuple[tuple[str, str], ...]:
        given = ((fact.key, self.cleaned_data.get(stated_field(fact))) for fact in self.asked)
        return tuple((key, str(value).strip()) for key, value in given if value)

    def line_rows(self) -> list[dict[str, Any]]:
        return [{name: self[f"{name}_{row}"] for name in LINE_CELLS} for row in range(LINE_ROWS)]

    def single_duties(self) -> list[Any]:
        return [self[duty] for duty in SINGLE]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        lines = [self._line(given, row) for row in range(LINE_ROWS)]
        self.charge = tuple(line for line in lines if line is not None)
        return given

    def _line(self, given: dict[str, Any], row: int) -> Line | None:
        place = self.positions.get(given.get(f"position_{row}", ""))
        product = self.products.get(given.get(f"product_{row}", ""))
        lot = self.lots.get(given.get(f"lot_{row}", ""))
        text = given.get(f"quantity_{row}", "")
        if not (place or product or lot or text):
            return None
        product = product or (lot.product if lot else None)
        for name, value in (("position", place), ("product", product), ("quantity", text)):
            if not value:
                self.add_error(f"{name}_{row}", _("This line is not whole yet."))
        if not (place and product and text):
            return None
        try:
            quantity = to_decimal(text, product.counted_in, 2)
        except ValidationError as refused:
            self.add_error(f"quantity_{row}", refused)
            return None
        return Line(place, product, quantity, lot)

    def crew_places(self) -> tuple[Place, ...]:
        """Everyone named, each in their duty."""
        given = self.cleaned_data
        named = [(given.get(duty), duty) for duty in SINGLE]
        named += [(key, "crew") for key in given.get("crew", ())]
        named += [(key, "learner") for key in given.get("learners", ())]
        return tuple(Place(self.people[key], duty) for key, duty in named if key)

    def have_seen(self, number: int) -> None:
        """The next sending knows of this version."""
        data = cast(QueryDict, self.data).copy()
        data["seen_version"] = str(number)
        self.data = data

    def fill_charge(self, lines: Sequence[Line]) -> None:
        """Put these lines in place of those typed; everything else stays as it was sent."""
        data = cast(QueryDict, self.data).copy()
        filled = charge_cells(lines)
        for row in range(LINE_ROWS):
            for name in LINE_CELLS:
                data[f"{name}_{row}"] = filled.get(f"{name}_{row}", "")
        self.data = data
        self.full_clean()

    def whole(self) -> PlanContent:
        """The content of a valid form."""
        content = self.content()
        assert content is not None  # unit and times are required fields
        return content

    def content(self) -> PlanContent | None:
        """What the form says so far; None while unit and times are missing."""
        given = self.cleaned_data
        unit = self.units.get(given.get("unit", ""))
        if unit is None or not given.get("starts_at") or not given.get("ends_at"):
            return None
        return PlanContent(
            unit=unit, exercise=given.get("exercise", ""), starts_at=given["starts_at"],
            ends_at=given["ends_at"], water_l=given.get("water_l") or Decimal(0),
            objective=given.get("objective", ""), abort_criteria=given.get("abort_criteria", ""),
            charge=getattr(self, "charge", ()), crew=self.crew_places(), stated=self._stated(),
        )  # fmt: skip


def stated_field(fact: Fact) -> str:
    return f"stated_{fact.key.replace('.', '_')}"


def _statement_field(fact: Fact) -> forms.Field:
    label = capfirst(_(fact.meaning))
    if fact.unit == YES_NO or fact.choices:
        words = ("yes", "no") if fact.unit == YES_NO else fact.choices
        choices = [("", _("not stated")), *((word, _(word)) for word in words)]
        return forms.ChoiceField(label=label, required=False, choices=choices)
    if fact.unit == DATE:
        return forms.DateField(
            label=label, required=False,
            widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        )  # fmt: skip
    if fact.unit == WORD:
        return forms.CharField(label=label, required=False, max_length=60)
    return QuantityField(fact.unit, 3, label=label, required=False)


def initial_of(content: PlanContent, number: int) -> dict[str, Any]:
    """A stored version as the starting values of the form."""
    start: dict[str, Any] = {
        "seen_version": number,
        "unit": content.unit.public_id,
        "exercise": content.exercise,
        "starts_at": content.starts_at,
        "ends_at": content.ends_at,
        "water_l": f"{content.water_l:f}",
        "objective": content.objective,
        "abort_criteria": content.abort_criteria,
        "crew": [person.public_id for person in content.people_in("crew")],
        "learners": [person.public_id for person in content.learners],
    }
    for key, value in content.stated:
        start[stated_field(FACTS[key])] = value
    for duty in SINGLE:
        start[duty] = next((each.public_id for each in content.people_in(duty)), "")
    return start | charge_cells(content.charge)


def charge_cells(lines: Sequence[Line]) -> dict[str, str]:
    """Lines of a charge as the cells of the form's rows."""
    cells: dict[str, str] = {}
    for row, line in enumerate(lines[:LINE_ROWS]):
        cells[f"position_{row}"] = line.position.public_id
        cells[f"product_{row}"] = line.product.public_id
        cells[f"lot_{row}"] = line.lot.public_id if line.lot else ""
        cells[f"quantity_{row}"] = plain_number(line.quantity)
    return cells


class ProposeForm(forms.Form):
    """What boards are to be proposed for; it stands inside the form of the plan."""

    prefix = "propose"

    target = QuantityField(
        "MJ", 1, required=False, label=gettext_lazy("Energy wanted"),
        help_text=gettext_lazy("Of the whole charge. Left empty: 85 % of the tightest cap."),
    )  # fmt: skip
    fuels = forms.MultipleChoiceField(
        required=False, label=gettext_lazy("Of these boards only"),
        help_text=gettext_lazy("None ticked: those in the charge already, else all of them."),
        widget=forms.CheckboxSelectMultiple,
    )  # fmt: skip

    def __init__(self, *args: Any, products: Iterable[Any], **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["fuels"].choices = [  # type: ignore[attr-defined]
            (each.public_id, str(each)) for each in products if each.is_board
        ]

    def refuse(self, refused: Refused) -> None:
        self.add_error("target" if refused.field == "target" else None, refused.sentence)


class ShownForm(ActForm):
    """An act on exactly the content that was shown."""

    shown_hash = forms.CharField(max_length=64, widget=forms.HiddenInput)


class ApprovalForm(SignatureForm):
    act = "plans.plan_approved"
    meanings = [("approval to burn as planned", gettext_lazy("approval to burn as planned"))]


class ReasonForm(ShownForm):
    reason = forms.CharField(
        max_length=2000, label=gettext_lazy("Reason"), widget=forms.Textarea(attrs={"rows": 3})
    )


class IssueForm(ActForm):
    """What leaves the store: one row for each suggested lot of each line."""

    why_younger = forms.CharField(
        required=False, max_length=1000, label=gettext_lazy("Why a younger lot goes first"),
        widget=forms.Textarea(attrs={"rows": 2}),
    )  # fmt: skip

    def __init__(
        self, *args: Any, handouts: list[selectors.Handout], departs: bool, **options: Any
    ) -> None:
        super().__init__(*args, **options)
        self.handouts, self.departs = handouts, departs
        for row, handout in enumerate(handouts):
            self.fields[f"quantity_{row}"] = QuantityField(
                handout.line.product.counted_in, 2, initial=plain_number(handout.quantity)
            )
            name_cells(self, row, quantity=_("Count"))

    @property
    def asks_why(self) -> bool:
        """Whether a reason is asked: the plan names a younger lot, or the counts leave one lying."""
        return self.departs or bool(self.errors.get("why_younger") or self["why_younger"].value())

    def rows(self) -> list[tuple[selectors.Handout, Any]]:
        return [(each, self[f"quantity_{row}"]) for row, each in enumerate(self.handouts)]

    def chosen(self) -> list[selectors.Handout]:
        given = self.cleaned_data
        return [
            selectors.Handout(each.line, each.lot, given[f"quantity_{row}"])
            for row, each in enumerate(self.handouts)
            if given[f"quantity_{row}"]
        ]
