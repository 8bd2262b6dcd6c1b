"""The filter of a unit's history, and what is asked for with a document."""

from __future__ import annotations

import datetime as dt

from django import forms
from django.utils.translation import gettext_lazy

from facility.look.forms import ActForm
from records.reports.history import KINDS
from records.reports.pdf import PAPERS

KIND_WORDS = {
    "burn": gettext_lazy("burns"),
    "inspection": gettext_lazy("inspections"),
    "defect": gettext_lazy("defects"),
    "repair": gettext_lazy("repairs"),
    "release": gettext_lazy("returns to service"),
}


def _day() -> forms.DateInput:
    return forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


ROW_WORDS = {
    "burn": gettext_lazy("burn"),
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


class PaperForm(ActForm):
    """A history as a document: from, to, and the sheet it is printed on."""

    start = forms.DateField(label=gettext_lazy("From"), widget=_day())
    end = forms.DateField(label=gettext_lazy("To"), widget=_day())
    paper = forms.ChoiceField(label=gettext_lazy("Paper"), choices=list(PAPERS.items()))
