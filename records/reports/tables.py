"""The history of a unit as a list."""

from __future__ import annotations

from typing import Any

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from facility.look.tables import Column, ListTable, QuantityColumn, WhenColumn
from records.reports.forms import ROW_WORDS


class WideColumn(Column):
    kind = "wide"


class HistoryTable(ListTable):
    when = WhenColumn(verbose_name=gettext_lazy("When"))
    kind = Column(verbose_name=gettext_lazy("Kind"))
    what = WideColumn(orderable=False, verbose_name=gettext_lazy("What"))
    dry_mass_kg = QuantityColumn("kg", verbose_name=gettext_lazy("Dry mass"))
    energy_mj = QuantityColumn("MJ", verbose_name=gettext_lazy("Energy"))
    people = QuantityColumn(verbose_name=gettext_lazy("People"))
    by = Column(verbose_name=gettext_lazy("By"))
    approved_by = Column(verbose_name=gettext_lazy("Approved by"))

    class Meta(ListTable.Meta):
        orderable = False  # the newest first, fifty at a time as the database gives them
        empty_text = gettext_lazy("Nothing recorded in this period.")

    def render_kind(self, value: str) -> str:
        return str(ROW_WORDS[value])

    def render_what(self, value: str, record: Any) -> SafeString:
        """What happened, and below it fuel, what was near a limit, and corrections, a line each."""
        said = (
            format_html('<a href="{}">{}</a>', record.address, value) if record.address else value
        )
        below = [record.fuel] if record.fuel else []
        below += [_("Near: {what}").format(what=each) for each in record.findings]
        below += [_("Corrected: {what}").format(what=each) for each in record.corrections]
        lines = format_html_join(
            "", '<br><span class="small quiet">{}</span>', ((each,) for each in below)
        )
        return format_html("{}{}", said, lines)

    def render_approved_by(self, value: str, record: Any) -> str:
        return f"{value}, {record.clause}"
