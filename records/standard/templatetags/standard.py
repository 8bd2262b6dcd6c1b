"""Rows, facts and findings of the standard in words."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from facility.calc.units import pretty_unit
from facility.kinds import Duty, ProductKind
from facility.look.reader import current_system
from facility.people.permissions import Role
from facility.refusals import plain_number
from facility.rulebook.models import Comparison, LimitRow
from facility.rules import words
from facility.rules.fact import COUNT, DATE, WORD, YES_NO, Fact
from facility.rules.facts import REGISTER
from facility.rules.words import amount
from facility.sites.models import Exercise, UnitKind
from records.standard.words import COLUMNS, MOMENTS, WINDOWS

register = template.Library()
LISTS = (("exercises", Exercise), ("unit_kinds", UnitKind), ("duties", Duty), ("products", ProductKind))  # fmt: skip


@register.filter
def limit_of(row: Any) -> str:
    """The comparison with its limit, as one reads it: at most 12 %."""
    if row.comparison in (Comparison.IS_TRUE, Comparison.IS_FALSE):
        return str(row.get_comparison_display())
    if row.is_undecided:
        return _("{compared}: the ground decides").format(compared=row.get_comparison_display())
    if row.limit_text:
        return f"{row.get_comparison_display()} {_words(row)}"
    system = current_system()
    low = amount(float(row.limit), row.unit, _, system)
    if row.limit_high is not None:
        return f"{low} – {amount(float(row.limit_high), row.unit, _, system)}"
    return f"{row.get_comparison_display()} {low}"


def _words(row: Any) -> str:
    """The words allowed, as labels where they are kinds of product."""
    labels = dict(ProductKind.choices) if row.fact == "product.kind" else {}
    words = [word.strip() for word in row.limit_text.split(",")]
    return ", ".join(str(labels.get(word, word)) for word in words)


@register.filter
def narrowing(row: Any) -> str:
    """To what a row is narrowed, and over which time it counts; empty for every burn."""
    parts = []
    for name, kinds in LISTS:
        labels = dict(kinds.choices)
        if given := getattr(row, name).split():
            parts.append(", ".join(str(labels.get(word, word)) for word in given))
    if row.window != "burn":
        parts.append(_("over {window}").format(window=WINDOWS[row.window]))
    if asked := row.asked_at.split():
        moments = ", ".join(str(MOMENTS[word]) for word in asked)
        parts.append(_("at {moments}").format(moments=moments))
    return "; ".join(parts)


@register.filter
def role_name(role: str) -> Any:
    return Role(role).label


@register.filter
def meaning(fact: Fact) -> str:
    return _(fact.meaning)


@register.filter
def meaning_of(key: str) -> str:
    """What a stated fact says, by its key; the key itself when the register no longer knows it."""
    return _(REGISTER[key].meaning) if key in REGISTER else key


@register.filter
def told_in(fact: Fact) -> str:
    kinds = {COUNT: _("a count"), YES_NO: _("yes or no"), WORD: _("a word"), DATE: _("a day")}
    return kinds.get(fact.unit) or pretty_unit(fact.unit)


@register.filter
def unit_told(unit: str) -> str:
    """The unit behind a stated value; a truth, a word or a day has none."""
    return "" if unit in (COUNT, YES_NO, WORD, DATE) else pretty_unit(unit)


@register.filter
def finding_title(finding: Any) -> str:
    """What was asked, of whom, and over which time."""
    return words.title(finding, _)


@register.filter
def finding_also(finding: Any) -> str:
    return words.also(finding, _, current_system())


@register.filter
def column_name(field: str) -> Any:
    """A field of a row or chart, as people call it."""
    return COLUMNS.get(field, field)


@register.filter
def cell(value: Any) -> str:
    """One value of a row or chart in a comparison."""
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if isinstance(value, list | tuple):
        return " · ".join(cell(each) for each in value)
    if isinstance(value, Decimal):
        return plain_number(value)
    return str(value) if value not in ("", None) else "–"


@register.filter
def turn(way: str) -> SafeString:
    """Which way a change went, as mark and word; nothing where it cannot be told."""
    marks = {
        "stricter": ("calm", "dot-full", _("stricter")),
        "looser": ("watch", "dot-half", _("looser")),
    }
    if way not in marks:
        return SafeString("")
    return format_html('<span class="state {}"><span class="dot {}"></span>{}</span>', *marks[way])


@register.filter
def limit_of_values(row: Any) -> str:
    """``limit_of`` for a row given as plain values."""
    return limit_of(LimitRow(**row))
