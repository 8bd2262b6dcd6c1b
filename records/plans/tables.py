"""The list of plans and its filter."""

from __future__ import annotations

from typing import Any

import django_filters as filters
from django.utils.translation import gettext_lazy as _

from facility.look.tables import Column, LinkedColumn, ListTable, StateColumn, WhenColumn
from records.plans import selectors


class PlanTable(ListTable):
    reference = LinkedColumn("plans:plan", order_by="public_id", verbose_name=_("Plan"))
    state = StateColumn(verbose_name=_("State"))
    unit = Column(accessor="current__unit", order_by="current__unit__name", verbose_name=_("Unit"))
    exercise = Column(
        accessor="current__get_exercise_display",
        order_by="current__exercise",
        verbose_name=_("Exercise"),
    )
    starts_at = WhenColumn(accessor="current__starts_at", verbose_name=_("Start"))
    author = Column(
        accessor="current__written_by__name", orderable=False, verbose_name=_("Written by")
    )
    version = Column(accessor="current__number", orderable=False, verbose_name=_("Version"))

    class Meta(ListTable.Meta):
        empty_text = _("No plan matches. An instructor writes the first one with New plan.")


class PlanFilter(filters.FilterSet):
    state = filters.ChoiceFilter(choices=selectors.STATES, label=_("State"), empty_label=_("all"))
    unit = filters.ChoiceFilter(
        field_name="current__unit__public_id", label=_("Unit"), empty_label=_("all")
    )

    def __init__(self, *args: Any, units: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.filters["unit"].extra["choices"] = [(unit.public_id, unit.name) for unit in units]
