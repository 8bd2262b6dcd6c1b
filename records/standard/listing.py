"""The check list of a draft: one item written, or written anew."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext as _

from facility.people.models import Person
from facility.refusals import refuse_if
from facility.rulebook.checks import ITEM_FIELDS, MOST_ITEMS
from facility.rulebook.models import CheckItem, Edition
from records.audit.door import door
from records.standard.services import checked_item, open_draft, save_item


def write_item(
    edition: Edition, given: Mapping[str, Any], *, by: Person, new: bool = False,
    at: dt.datetime | None = None, once: str = "",
) -> CheckItem:  # fmt: skip
    """Add an item to a draft's check list, or write the one of that code anew; ``new`` refuses
    to do the latter."""
    values = checked_item(given)
    with door(
        "ground.check_written", by=by, site=edition.site, on=edition, at=at, once=once
    ) as entry:
        edition = open_draft(edition)
        old = edition.checks.filter(code=values["code"]).first()
        refuse_if(
            new and old is not None,
            "code",
            _("The draft has an item {code} already.").format(code=values["code"]),
        )
        refuse_if(
            old is None and edition.checks.count() >= MOST_ITEMS,
            "code",
            _("At most {most} items make a check list.").format(most=MOST_ITEMS),
        )
        before = {field: getattr(old, field) for field in ITEM_FIELDS} if old else {}
        changed = {key: value for key, value in values.items() if before.get(key) != value}
        item = save_item(edition, values, by)
        entry.changed(
            {key: before[key] for key in changed if key in before}, item=item.code, **changed
        )
    return item
