"""The list of burns and its filter."""

from __future__ import annotations

from typing import Any

import django_filters as filters
from django.utils.translation import gettext_lazy as _

from facility.look.tables import (
    Column,
    LinkedColumn,
    ListTable,
    QuantityColumn,
    StateColumn,
    WhenColumn,
)  # fmt: skip


class BurnTable(ListTable):
    reference = LinkedColumn("burns:burn", order_by="public_id", verbose_name=_("Burn"))
    ignited_at = WhenColumn(verbose_name=_("Ignition"))
    unit = Column(order_by="unit__name", verbose_name=_("Unit"))
    exercise = Column(
        accessor="version__get_exercise_display",
        order_by="version__exercise",
        verbose_name=_("Exercise"),
    )
    nth_of_day = QuantityColumn(verbose_name=_("Of the day"))
    mass = QuantityColumn("kg", accessor="current__dry_mass_kg", verbose_name=_("Dry mass"))
    energy = QuantityColumn("MJ", accessor="current__energy_mj", verbose_name=_("Energy"))
    people = QuantityColumn(verbose_name=_("People"))
    learners = QuantityColumn(verbose_name=_("Learners"))
    state = StateColumn(accessor="standing", order_by="state", verbose_name=_("State"))

    class Meta(ListTable.Meta):
        empty_text = _("No burn matches. A burn begins at its approved plan, with Check and light.")


class BurnFilter(filters.FilterSet):
    unit = filters.ChoiceFilter(field_name="unit__public_id", label=_("Unit"), empty_label=_("all"))
    since = filters.DateFilter(
        field_name="ignited_at", lookup_expr="date__gte", label=_("From"),
        widget=filters.widgets.forms.DateInput(attrs={"type": "date"}),
    )  # fmt: skip
    until = filters.DateFilter(
        field_name="ignited_at", lookup_expr="date__lte", label=_("To"),
        widget=filters.widgets.forms.DateInput(attrs={"type": "date"}),
    )  # fmt: skip

    def __init__(self, *args: Any, units: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.filters["unit"].extra["choices"] = [(unit.public_id, unit.name) for unit in units]
