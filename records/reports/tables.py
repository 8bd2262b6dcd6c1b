"""The history of a unit as a list."""

from __future__ import annotations

from typing import Any

from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext_lazy as _

from facility.look.tables import Column, ListTable, QuantityColumn, WhenColumn
from records.reports.forms import ROW_WORDS


class WideColumn(Column):
    kind = "wide"


class HistoryTable(ListTable):
    when = WhenColumn(verbose_name=_("When"))
    kind = Column(verbose_name=_("Kind"))
    what = WideColumn(orderable=False, verbose_name=_("What"))
    dry_mass_kg = QuantityColumn("kg", verbose_name=_("Dry mass"))
    energy_mj = QuantityColumn("MJ", verbose_name=_("Energy"))
    people = QuantityColumn(verbose_name=_("People"))
    by = Column(verbose_name=_("By"))
    approved_by = Column(verbose_name=_("Approved by"))
    clause = Column(orderable=False, verbose_name=_("Standard"))

    class Meta(ListTable.Meta):
        order_by = "-when"
        empty_text = _("Nothing recorded in this period.")

    def render_kind(self, value: str) -> str:
        return str(ROW_WORDS[value])

    def render_what(self, value: str, record: Any) -> SafeString:
        said = (
            format_html('<a href="{}">{}</a>', record.address, value) if record.address else value
        )
        below = [record.fuel] if record.fuel else []
        below += record.findings
        below += [_("Corrected: {what}").format(what=each) for each in record.corrections]
        if not below:
            return format_html("{}", said)
        return format_html('{}<br><span class="small quiet">{}</span>', said, "; ".join(below))
