"""The log as a list."""

from __future__ import annotations

import re
from functools import cached_property
from typing import Any

import django_filters as filters
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from facility.look.tables import Column, ListTable, WhenColumn
from facility.people.permissions import ACTS, Role
from records.audit import selectors
from records.audit.places import address_of


class EntryTable(ListTable):
    seq = Column(verbose_name=gettext_lazy("Entry"))
    at = WhenColumn(verbose_name=gettext_lazy("When"))
    act = Column(verbose_name=gettext_lazy("What"))
    actor = Column(verbose_name=gettext_lazy("Who"))
    role = Column(orderable=False, verbose_name=gettext_lazy("As"))
    obj = Column(orderable=False, verbose_name=gettext_lazy("On"))
    changes = Column(
        accessor="after",
        orderable=False,
        empty_values=(),
        verbose_name=gettext_lazy("Before and after"),
    )

    class Meta(ListTable.Meta):
        empty_text = gettext_lazy("No entry matches.")

    @cached_property
    def names(self) -> dict[str, str]:
        """The names behind the keys on this page, fetched at once."""
        return selectors.names_of(row.record.actor for row in self.page.object_list)

    def render_seq(self, value: int) -> SafeString:
        address = reverse("audit:proof", args=[value])
        said = '{}<br><a class="small" href="{}" download>{}</a>'
        return format_html(said, value, address, _("proof"))

    def render_act(self, value: str) -> str:
        return str(ACTS[value].label) if value in ACTS else value

    def render_actor(self, value: str) -> str:
        return self.names.get(value, value) or _("the program")

    def render_obj(self, value: str) -> SafeString | str:
        kind, _colon, public_id = value.partition(":")
        words = f"{kind} {public_id[:5]}-{public_id[5:]}".upper() if public_id else value
        address = address_of(value)
        return format_html('<a href="{}">{}</a>', address, words) if address else words

    def render_role(self, value: str) -> str:
        return ", ".join(
            str(Role(name).label) if name in Role.values else name for name in value.split(",")
        )

    def render_changes(self, record: Any) -> SafeString:
        """What changed, as old and new; what was empty before and after is left out."""
        before, after = record.before, record.after
        parts = [f"{key}: {_short(before[key])} → {_short(after.get(key))}" for key in before]
        parts += [
            f"{key}: {_short(after[key])}" for key in after if key not in before and after[key]
        ]
        parts += [record.why] if record.why else []
        return format_html('<span class="small quiet">{}</span>', "; ".join(parts))


_HASH = re.compile(r"^[0-9a-f]{64}$")


def _short(value: Any) -> Any:
    """A hash by its first twelve digits: the whole stands in the log's own row; lists in words."""
    if value in (None, "", []):
        return "–"
    if isinstance(value, list):
        apart = ", " if any(isinstance(item, list) for item in value) else " "
        return apart.join(str(_short(item)) for item in value)
    return value[:12] if isinstance(value, str) and _HASH.match(value) else value


class EntryFilter(filters.FilterSet):
    act = filters.ChoiceFilter(
        choices=selectors.ACT_CHOICES, label=gettext_lazy("What"), empty_label=gettext_lazy("all")
    )
    actor = filters.ChoiceFilter(label=gettext_lazy("Who"), empty_label=gettext_lazy("all"))

    def __init__(self, *args: Any, actors: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.filters["actor"].extra["choices"] = actors
