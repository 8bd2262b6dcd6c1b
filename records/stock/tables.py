"""The lists of the store and their filters."""

from __future__ import annotations

from typing import Any

import django_filters as filters
from django.db.models import QuerySet
from django.utils.safestring import SafeString
from django.utils.translation import gettext_lazy as _

from facility.look.tables import (
    Column,
    DayColumn,
    LinkedColumn,
    ListTable,
    QuantityColumn,
    StateColumn,
)  # fmt: skip
from facility.look.templatetags.look import amount
from records.stock import selectors

MAY_BURN = ("accepted", "conditional")


class AmountColumn(Column):
    """Boards, kg or litres, as the product of the row is counted."""

    kind = "num"

    def render(self, value: Any, record: Any) -> SafeString:
        return amount(value, record.product)


class LotTable(ListTable):
    code = LinkedColumn("stock:lot", verbose_name=_("Lot"))
    product = Column(order_by="product__name", verbose_name=_("Product"))
    standing = StateColumn(empty_values=(), order_by="verdict", verbose_name=_("State"))
    moisture_pct = QuantityColumn("%", orderable=False, verbose_name=_("Moisture"))
    on_hand = AmountColumn(accessor="balance__on_hand", verbose_name=_("On hand"))
    available = AmountColumn(
        accessor="balance__available", orderable=False, verbose_name=_("Available")
    )
    received = AmountColumn(verbose_name=_("Received"))
    bay = Column(accessor="balance__bay", order_by="balance__bay__name", verbose_name=_("Bay"))
    docket = Column(
        accessor="delivery", order_by="delivery__docket", verbose_name=_("Docket, supplier")
    )
    delivered = DayColumn(accessor="delivery__delivered_at", verbose_name=_("Delivered"))

    def render_available(self, value: Any, record: Any) -> SafeString:
        """Of a lot that may not burn, nothing is."""
        return amount(value if record.verdict in MAY_BURN else None, record.product)

    def render_docket(self, value: Any) -> str:
        return f"{value.docket}, {value.supplier}"

    class Meta(ListTable.Meta):
        empty_text = _("No lot matches. A delivery brings the first ones in.")


class LotFilter(filters.FilterSet):
    kind = filters.ChoiceFilter(
        field_name="product__kind", choices=selectors.PRODUCT_KINDS, label=_("Fuel"),
        empty_label=_("all"),
    )  # fmt: skip
    state = filters.ChoiceFilter(
        choices=selectors.VERDICTS, method="by_state", label=_("State"), empty_label=_("all")
    )
    stock = filters.ChoiceFilter(
        choices=[("yes", _("in stock")), ("no", _("used up"))], method="by_stock",
        label=_("Stock"), empty_label=_("all"),
    )  # fmt: skip

    def by_state(self, lots: Any, name: str, value: str) -> QuerySet[Any]:
        found: QuerySet[Any] = lots.in_state(value)
        return found

    def by_stock(self, lots: QuerySet[Any], name: str, value: str) -> QuerySet[Any]:
        if value == "yes":
            return lots.filter(balance__on_hand__gt=0)
        return lots.filter(balance__on_hand=0)
