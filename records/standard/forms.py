"""Forms about the standard. They read what was typed; the services decide what is allowed."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from facility.kinds import Duty, ProductKind
from facility.look.forms import ActForm, choose_first, to_decimal
from facility.people.permissions import Role
from facility.rulebook.checks import FIELDS, LISTS, WAIVED_BY, check_row
from facility.rulebook.models import Basis, Comparison, Edition, LimitRow, Severity, WaiverScope
from facility.rules.engine import Moment
from facility.rules.facts import REGISTER, Fact, Window
from facility.rules.sheet import STANDING
from facility.sites.models import Exercise, Unit, UnitKind
from records.audit.forms import SignatureForm
from records.standard.words import MOMENTS, SUBJECTS, WINDOWS

DAY = {"type": "date"}


def day_field(label: Any, **options: Any) -> forms.DateField:
    return forms.DateField(
        label=label, widget=forms.DateInput(attrs=DAY, format="%Y-%m-%d"), **options
    )


def facts_by_subject(facts: list[Fact]) -> list[Any]:
    """Facts for a choice, under the subject each is about."""
    groups: dict[str, list[tuple[str, str]]] = {}
    for fact in facts:
        groups.setdefault(str(SUBJECTS[fact.subject]), []).append((fact.key, _(fact.meaning)))
    return [choose_first(), *groups.items()]


class EditionForm(ActForm):
    code = forms.CharField(
        max_length=200, label=gettext_lazy("Code"), help_text=gettext_lazy("Short, such as KM-3.")
    )
    title = forms.CharField(max_length=500, label=gettext_lazy("Title"))
    copy_of = forms.ChoiceField(
        label=gettext_lazy("Begin with"),
        help_text=gettext_lazy("The rows and charts are copied; you change the copy."),
    )
    jurisdiction = forms.CharField(
        max_length=200, required=False, label=gettext_lazy("Of which authority"),
        help_text=gettext_lazy(
            "Empty for the ground's own standard. An authority's standard is in force beside it; "
            "where both ask the same, the stricter governs."
        ),
    )  # fmt: skip

    def __init__(self, *args: Any, editions: list[Edition], starters: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.editions = {each.public_id: each for each in editions}
        choices = [(key, f"{each.code}, {each.title}") for key, each in self.editions.items()]
        field: Any = self.fields["copy_of"]
        field.choices = [*choices, *starters, ("empty", _("nothing"))]


class RowForm(ActForm):
    """One row of a draft. What is left empty means: not narrowed, no limit, nobody may waive."""

    code = forms.CharField(max_length=100, label=gettext_lazy("Row"))
    title = forms.CharField(max_length=500, label=gettext_lazy("What it asks, in a few words"))
    fact = forms.ChoiceField(label=gettext_lazy("Fact"))
    window = forms.ChoiceField(
        required=False, label=gettext_lazy("Counted over"), choices=lambda: list(WINDOWS.items())
    )
    comparison = forms.ChoiceField(
        label=gettext_lazy("Compared"), choices=lambda: [choose_first(), *Comparison.choices]
    )
    limit = forms.CharField(
        max_length=100, required=False, label=gettext_lazy("Limit"),
        help_text=gettext_lazy("Open only for a value the ground still has to decide."),
    )  # fmt: skip
    limit_high = forms.CharField(
        max_length=100, required=False, label=gettext_lazy("Upper limit, for between")
    )
    limit_text = forms.CharField(
        max_length=500, required=False, label=gettext_lazy("Words allowed, or a day"),
        help_text=gettext_lazy("Words parted by commas; a day as 2027-05-31, or 05-31."),
    )  # fmt: skip
    unit = forms.CharField(
        max_length=50, required=False, label=gettext_lazy("Unit"),
        help_text=gettext_lazy("Empty: the unit of the fact."),
    )  # fmt: skip
    severity = forms.ChoiceField(
        label=gettext_lazy("Effect"), choices=lambda: [choose_first(), *Severity.choices]
    )
    clause = forms.CharField(max_length=500, label=gettext_lazy("Clause"))
    basis = forms.ChoiceField(
        label=gettext_lazy("Basis"), choices=lambda: [choose_first(), *Basis.choices]
    )
    jurisdiction = forms.CharField(
        max_length=200, required=False, label=gettext_lazy("From which authority")
    )
    source = forms.CharField(
        max_length=500, required=False, label=gettext_lazy("Where it was read")
    )
    why = forms.CharField(
        max_length=1000, required=False, label=gettext_lazy("Why"),
        widget=forms.Textarea(attrs={"rows": 2}),
    )  # fmt: skip
    exercises = forms.MultipleChoiceField(
        required=False, label=gettext_lazy("Only for these exercises"), choices=Exercise.choices,
        widget=forms.CheckboxSelectMultiple,
    )  # fmt: skip
    unit_kinds = forms.MultipleChoiceField(
        required=False, label=gettext_lazy("Only for these units"), choices=UnitKind.choices,
        widget=forms.CheckboxSelectMultiple,
    )  # fmt: skip
    duties = forms.MultipleChoiceField(
        required=False, label=gettext_lazy("Only for people with these duties"),
        choices=Duty.choices, widget=forms.CheckboxSelectMultiple,
    )  # fmt: skip
    products = forms.MultipleChoiceField(
        required=False, label=gettext_lazy("Only for these products"),
        choices=ProductKind.choices, widget=forms.CheckboxSelectMultiple,
    )  # fmt: skip
    asked_at = forms.MultipleChoiceField(
        required=False, label=gettext_lazy("Asked only at"),
        choices=lambda: [(moment, MOMENTS[moment]) for moment in Moment],
        widget=forms.CheckboxSelectMultiple,
    )  # fmt: skip
    waivable_by = forms.ChoiceField(
        required=False, label=gettext_lazy("May be waived by"),
        choices=lambda: [("", _("nobody")), *((role, Role(role).label) for role in WAIVED_BY)],
    )  # fmt: skip
    two_people = forms.BooleanField(
        required=False, label=gettext_lazy("a waiver needs a second person")
    )
    on = forms.BooleanField(required=False, initial=True, label=gettext_lazy("switched on"))

    def __init__(self, *args: Any, row: LimitRow | None = None, **options: Any) -> None:
        super().__init__(*args, initial=_initial(row), **options)
        self.row = row
        field: Any = self.fields["fact"]
        field.choices = facts_by_subject(list(REGISTER.values()))
        if row is not None:
            self.fields["code"].widget = forms.HiddenInput()

    def clean(self) -> dict[str, Any]:
        """Every fault of the row beside its field; the service refuses the first of them alike."""
        given = super().clean() or {}
        if not self.errors:
            for fault in check_row(self.values()).faults:
                field = fault.field if fault.field in self.fields else None
                self.add_error(field, f"{fault.given or _('nothing given')}: {fault.sentence}.")
        return given

    def values(self) -> dict[str, Any]:
        given = self.cleaned_data
        lists = {name: " ".join(given[name]) for name in LISTS}
        code = self.row.code if self.row else given["code"]
        return {**{field: given[field] for field in FIELDS}, **lists, "code": code}


def _initial(row: LimitRow | None) -> dict[str, Any] | None:
    if row is None:
        return {"window": Window.BURN}
    values = {field: getattr(row, field) for field in FIELDS}
    for field in ("limit", "limit_high"):
        value: Decimal | None = values[field]
        values[field] = "" if value is None else f"{value.normalize():f}"
    return {**values, **{name: values[name].split() for name in LISTS}}


class ChartForm(ActForm):
    """A burn-sequence chart; the caps stand in one line, first burn of the day first."""

    caps = forms.CharField(
        max_length=300, label=gettext_lazy("Fuel at most for the 1st, 2nd, 3rd … burn, kg dry"),
        help_text=gettext_lazy("Parted by blanks, for instance: 110 85 60."),
    )  # fmt: skip
    burns_before_cooling = forms.IntegerField(label=gettext_lazy("Burns before the unit must cool"))
    cooling_min = forms.IntegerField(label=gettext_lazy("Pause that counts as cooling, min"))
    wait_min = forms.IntegerField(label=gettext_lazy("Wait between two burns, min"))
    trial_on = day_field(gettext_lazy("Trial burned on"))
    trial_note = forms.CharField(
        max_length=500, label=gettext_lazy("What the trial showed"),
        widget=forms.Textarea(attrs={"rows": 2}),
    )  # fmt: skip

    def clean_caps(self) -> list[Decimal]:
        words = self.cleaned_data["caps"].replace(";", " ").split()
        if len(words) > 24:
            raise ValidationError(_("At most 12 burns a day make a chart."))
        return [to_decimal(word, "kg", 1) for word in words]


class FileForm(ActForm):
    file = forms.FileField(
        label=gettext_lazy("File"), allow_empty_file=True,
        help_text=gettext_lazy("CSV, XLSX or JSON, as an edition is exported."),
    )  # fmt: skip
    dry_run = forms.BooleanField(
        required=False, initial=True, label=gettext_lazy("only say what it would change")
    )


class ReasonForm(ActForm):
    reason = forms.CharField(
        max_length=2000, label=gettext_lazy("Reason"), widget=forms.Textarea(attrs={"rows": 3})
    )


class AdoptForm(SignatureForm):
    """Putting an edition in force: from when, and a signature on what was shown."""

    act = "ground.edition_adopted"
    meanings = [("put in force as it stands", gettext_lazy("put in force as it stands"))]

    in_force_from = day_field(gettext_lazy("In force from"))
    field_order = ["once", "shown_hash", "in_force_from", "meaning", "password"]


class WaiverForm(ActForm):
    row = forms.ChoiceField(label=gettext_lazy("Row"))
    scope = forms.ChoiceField(
        label=gettext_lazy("For"), choices=lambda: [choose_first(), *WaiverScope.choices]
    )
    plan = forms.CharField(
        max_length=20, required=False, label=gettext_lazy("Plan"),
        help_text=gettext_lazy("Its reference, for a waiver of one plan."),
    )  # fmt: skip
    unit = forms.ChoiceField(required=False, label=gettext_lazy("Unit"))
    reason = forms.CharField(
        max_length=1000, label=gettext_lazy("Reason"), widget=forms.Textarea(attrs={"rows": 2})
    )
    measure = forms.CharField(
        max_length=1000, label=gettext_lazy("What is done instead"),
        widget=forms.Textarea(attrs={"rows": 2}),
    )  # fmt: skip
    expires_on = day_field(gettext_lazy("Ends on"))

    def __init__(self, *args: Any, rows: list[LimitRow], units: list[Unit], **options: Any) -> None:
        super().__init__(*args, **options)
        self.rows = {f"{row.edition.code}/{row.code}": row for row in rows}
        row_field: Any = self.fields["row"]
        row_field.choices = [
            choose_first(),
            *((key, f"{row.code}, {row.title}") for key, row in self.rows.items()),
        ]
        unit_field: Any = self.fields["unit"]
        unit_field.choices = [("", "–"), *((unit.public_id, unit.name) for unit in units)]

    @property
    def target(self) -> str:
        given = self.cleaned_data
        if given["scope"] == WaiverScope.PLAN:
            return str(given["plan"]).replace("-", "").strip().lower()
        return str(given["unit"]) if given["scope"] == WaiverScope.UNIT else ""


class StatementForm(ActForm):
    fact = forms.ChoiceField(label=gettext_lazy("What is stated"))
    target = forms.ChoiceField(
        required=False, label=gettext_lazy("Of what"),
        help_text=gettext_lazy("Empty for the ground and its permits."),
    )  # fmt: skip
    value = forms.CharField(
        max_length=200, required=False, label=gettext_lazy("Value"),
        help_text=gettext_lazy("yes or no, a number, a word or a day; empty takes it back."),
    )  # fmt: skip
    since = day_field(gettext_lazy("Holds from"))
    until = day_field(gettext_lazy("Lapses after"), required=False)
    note = forms.CharField(
        max_length=500, label=gettext_lazy("What it rests on"),
        help_text=gettext_lazy("A certificate, a letter, what you saw."),
    )  # fmt: skip

    def __init__(self, *args: Any, targets: list[Any], **options: Any) -> None:
        super().__init__(*args, **options)
        stated = [fact for fact in REGISTER.values() if fact.stated and fact.subject in STANDING]
        fact_field: Any = self.fields["fact"]
        fact_field.choices = facts_by_subject(stated)
        target_field: Any = self.fields["target"]
        target_field.choices = [("", "–"), *targets]
