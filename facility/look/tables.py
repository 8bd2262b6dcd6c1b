"""Columns shared by every list: numbers that line up, states, links and local times.

``kind`` is the class of the cell; the table template reads it.
"""

from __future__ import annotations

from collections.abc import Callable
from inspect import signature
from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils import timezone
from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString, mark_safe

from facility.look.templatetags.look import qty, state
from facility.look.times import day_in_words, moment


class Column(tables.Column):
    kind = ""


class QuantityColumn(Column):
    """A stored number in the reader's units."""

    kind = "num"

    def __init__(self, unit: str = "", **options: Any) -> None:
        self.unit = unit
        super().__init__(**options)

    def render(self, value: Any) -> SafeString:
        return qty(value, self.unit)


class StateColumn(Column):
    kind = "tight"

    def render(self, value: str) -> SafeString:
        return state(value)


class LinkedColumn(Column):
    """The value as a link to the page of the row; ``key`` finds the public id."""

    kind = "tight"

    def __init__(
        self,
        page: str = "",
        key: Callable[[Any], str] = lambda row: row.public_id,
        **options: Any,
    ) -> None:
        self.page, self.key = page, key
        super().__init__(**options)

    def render(self, value: Any, record: Any) -> SafeString:
        return format_html(
            '<a href="{}">{}</a>', reverse(self.page, args=[self.key(record)]), value
        )


class WhenColumn(Column):
    """A time in the ground's zone."""

    kind = "tight"

    def render(self, value: Any) -> str:
        return moment(value)


class DayColumn(Column):
    """The day of a time, in the ground's zone."""

    kind = "tight"

    def render(self, value: Any) -> str:
        return day_in_words(timezone.localtime(value))


class _Cells:
    """How the cells of one column are made, worked out once for a page instead of once a cell.

    django-tables2 looks at the signature of the render function for every cell, which was two
    fifths of the time of a page of fifty rows.
    """

    def __init__(self, table: tables.Table, bound: Any) -> None:
        self.path = str(bound.accessor).split("__")
        self.column, self.default = bound.column, bound.default
        self.render = getattr(table, f"render_{bound.name}", bound.column.render)
        wanted = signature(self.render).parameters
        self.wants = [name for name in ("value", "record") if name in wanted]
        self.opening = format_html(
            '<td class="{}" data-label="{}">', bound.column.kind, bound.header
        )

    def cell(self, record: Any) -> str:
        value = self._value(record)
        if value in self.column.empty_values:
            shown = self.default
        else:
            given = {"value": value, "record": record}
            shown = self.render(**{name: given[name] for name in self.wants})
        return f"{self.opening}{conditional_escape(shown)}</td>"

    def _value(self, record: Any) -> Any:
        for name in self.path:
            record = getattr(record, name, None)
            if record is None:
                return None
        return record() if callable(record) else record


class ListTable(tables.Table):
    """Base of the lists: our template, and an empty text that says what to do first."""

    class Meta:
        template_name = "look/table.html"
        order_by_field = "sort"

    def body(self) -> SafeString:
        """The rows of this page."""
        cells = [_Cells(self, bound) for bound in self.columns]
        rows = (
            "".join(["<tr>", *(each.cell(row.record) for each in cells), "</tr>"])
            for row in self.page.object_list
        )
        return mark_safe("".join(rows))
