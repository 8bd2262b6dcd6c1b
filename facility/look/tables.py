"""Columns shared by every list: numbers that line up, states, links and local times.

``kind`` is the class of the cell; the table template reads it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.html import format_html
from django.utils.safestring import SafeString

from facility.look.templatetags.look import qty, state


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
        return date_format(timezone.localtime(value), "j M Y, H:i")


class DayColumn(Column):
    """The day of a time, in the ground's zone."""

    kind = "tight"

    def render(self, value: Any) -> str:
        return date_format(timezone.localtime(value), "j M Y")


class ListTable(tables.Table):
    """Base of the lists: our template, and an empty text that says what to do first."""

    class Meta:
        template_name = "look/table.html"
        order_by_field = "sort"
