"""The filter of a unit's history, the choice of labels, what is asked for with a document, recalls."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from facility.look.forms import ActForm
from records.audit.forms import SignatureForm
from records.reports.disposing import CARRY_OUT
from records.reports.disposing import ORDER as DISPOSE
from records.reports.history import KINDS
from records.reports.labels import MOST_PACKS, MOST_PLACES, SHEETS
from records.reports.pdf import PAPERS
from records.stock.recalling import LIFT, RECALL, SOURCES

KIND_WORDS = {
    "burn": gettext_lazy("burns"),
    "earlier": gettext_lazy("use taken over"),
    "inspection": gettext_lazy("inspections"),
    "defect": gettext_lazy("defects"),
    "repair": gettext_lazy("repairs"),
    "release": gettext_lazy("returns to service"),
}


def _day() -> forms.DateInput:
    return forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


ROW_WORDS = {
    "burn": gettext_lazy("burn"),
    "earlier": gettext_lazy("use taken over"),
    "inspection": gettext_lazy("inspection"),
    "defect": gettext_lazy("defect"),
    "repair": gettext_lazy("repair"),
    "release": gettext_lazy("return to service"),
}


class PeriodForm(forms.Form):
    """From, to and kind; what is left out or makes no sense falls back to the last year, all kinds."""

    start = forms.DateField(required=False, label=gettext_lazy("From"), widget=_day())
    end = forms.DateField(required=False, label=gettext_lazy("To"), widget=_day())
    kind = forms.ChoiceField(
        required=False, label=gettext_lazy("What"),
        choices=[("", gettext_lazy("all")), *((kind, KIND_WORDS[kind]) for kind in KINDS)],
    )  # fmt: skip

    def period(self, today: dt.date) -> tuple[dt.date, dt.date]:
        """First and last day; nothing earlier than a century ago or later than next year."""
        self.is_valid()
        given = getattr(self, "cleaned_data", {})
        earliest, latest = today - dt.timedelta(days=36_500), today + dt.timedelta(days=366)
        end = min(max(given.get("end") or today, earliest), latest)
        start = min(max(given.get("start") or end - dt.timedelta(days=365), earliest), latest)
        return (start, end) if start <= end else (end, start)

    def chosen_kind(self) -> str:
        return str(getattr(self, "cleaned_data", {}).get("kind", ""))


class LabelsForm(forms.Form):
    """Which sheet, how many packs, and where on a used sheet to begin."""

    size = forms.ChoiceField(
        choices=[(key, sheet.name) for key, sheet in SHEETS.items()],
        label=gettext_lazy("Sheet of labels"),
    )
    packs = forms.IntegerField(
        min_value=1, max_value=MOST_PACKS, label=gettext_lazy("Packs"),
        help_text=gettext_lazy("One label each."),
    )  # fmt: skip
    start = forms.IntegerField(
        min_value=1, max_value=MOST_PLACES, label=gettext_lazy("First free label"),
        help_text=gettext_lazy("On a sheet that was begun: counted along the rows, from the top."),
    )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        sheet = SHEETS.get(given.get("size", ""))
        if sheet and given.get("start", 1) > sheet.places:
            self.add_error("start", _("This sheet has {count} labels.").format(count=sheet.places))
        return given


class RecallForm(SignatureForm):
    act = "stock.lot_recalled"
    meanings = [(RECALL, gettext_lazy("recall: hold all that is left"))]

    source = forms.ChoiceField(choices=SOURCES, widget=forms.RadioSelect, label=gettext_lazy("Where it came from"))  # fmt: skip
    notice = forms.CharField(
        required=False, max_length=200, label=gettext_lazy("Number of the notice"),
        help_text=gettext_lazy("As the supplier's letter gives it."),
    )  # fmt: skip
    reason = forms.CharField(
        max_length=1000, label=gettext_lazy("What is wrong with these boards"),
        widget=forms.Textarea(attrs={"rows": 3}),
    )  # fmt: skip

    field_order = ["once", "shown_hash", "source", "notice", "reason", "meaning", "password"]


class LiftForm(SignatureForm):
    act = "stock.recall_lifted"
    meanings = [(LIFT, gettext_lazy("second check: the recall may end"))]

    reason = forms.CharField(
        max_length=1000, label=gettext_lazy("Why it may end"),
        widget=forms.Textarea(attrs={"rows": 3}),
    )  # fmt: skip

    field_order = ["once", "shown_hash", "reason", "meaning", "password"]


class DisposalForm(SignatureForm):
    act = "ground.disposal_ordered"
    meanings = [(DISPOSE, gettext_lazy("order: this may be disposed of"))]

    reason = forms.CharField(
        max_length=1000, label=gettext_lazy("Why it is not needed any more"),
        widget=forms.Textarea(attrs={"rows": 2}),
    )  # fmt: skip

    field_order = ["once", "shown_hash", "reason", "meaning", "password"]


class CarryOutForm(SignatureForm):
    act = "ground.disposal_done"
    meanings = [(CARRY_OUT, gettext_lazy("carrying out: erased for good"))]


class PaperForm(ActForm):
    """A history as a document: from, to, and the sheet it is printed on."""

    start = forms.DateField(label=gettext_lazy("From"), widget=_day())
    end = forms.DateField(label=gettext_lazy("To"), widget=_day())
    paper = forms.ChoiceField(label=gettext_lazy("Paper"), choices=list(PAPERS.items()))
