"""Changes to the standard: drafting an edition row by row, proposing it, putting it in force."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from facility.guarded import door_is_open
from facility.look.times import day_in_words
from facility.people.models import Person
from facility.refusals import (
    OwnWork,
    StaleVersion,
    WrongState,
    WrongValue,
    number_between,
    refuse_if,
    text_within,
)
from facility.rulebook import selectors
from facility.rulebook.checks import (
    FIELDS,
    ITEM_FIELDS,
    MOST_ITEMS,
    MOST_ROWS,
    Checked,
    check_item,
    check_row,
)
from facility.rulebook.models import (
    BurnSequence,
    BurnSequenceStep,
    CheckItem,
    Edition,
    LimitRow,
)
from facility.sites.models import Site, Unit
from records.audit.door import door
from records.audit.signing import signed
from records.standard.selectors import wrote_in


def draft_edition(
    site: Site, *, code: str, title: str, by: Person, jurisdiction: str = "",
    copy_of: Edition | None = None, rows: Sequence[Mapping[str, Any]] = (),
    charts: Sequence[Mapping[str, Any]] = (), items: Sequence[Mapping[str, Any]] = (),
    at: dt.datetime | None = None, once: str = "",
) -> Edition:  # fmt: skip
    """Begin a new edition, as a copy of another, from rows, or empty. It judges nothing yet."""
    jurisdiction = text_within("jurisdiction", jurisdiction, 60, needed=False)
    edition = Edition(
        site=site, code=text_within("code", code, 20), title=text_within("title", title, 120),
        jurisdiction=jurisdiction, proposed_by=by, supersedes=_superseded(site, jurisdiction),
    )  # fmt: skip
    refuse_if(
        Edition.objects.filter(site=site, code__iexact=edition.code).exists(),
        "code",
        _("An edition of that code exists; a code is used once."),
    )
    refuse_if(
        copy_of is not None and copy_of.site_id != site.pk, "copy_of", _("No such edition here.")
    )
    with door("ground.edition_drafted", by=by, site=site, on=edition, at=at, once=once) as entry:
        edition.drafted_at = entry.at
        edition.save()
        if copy_of is not None:
            _copy(copy_of, edition)
        _write_rows(edition, rows, by)
        _write_items(edition, items, by)
        for chart in charts:
            _write_chart(edition, by=by, **chart)
        entry.changed(code=code, title=title, rows=edition.rows.count(), copy_of=copy_of)
    return edition


def _superseded(site: Site, jurisdiction: str) -> Edition | None:
    """The edition this one will follow: the newest in the same line."""
    line = Edition.objects.filter(site=site, jurisdiction=jurisdiction, in_force_from__isnull=False)
    return line.order_by("-in_force_from").first()


def _copy(source: Edition, edition: Edition) -> None:
    LimitRow.objects.bulk_create(
        LimitRow(edition=edition, **{field: getattr(row, field) for field in FIELDS})
        for row in selectors.rows_of(source)
    )
    CheckItem.objects.bulk_create(
        CheckItem(edition=edition, **values) for values in selectors.item_values(source)
    )
    for chart in selectors.charts(source):
        steps = [step for step in chart.steps.all() if not step.dropped]
        _save_chart(
            BurnSequence(
                edition=edition, unit=chart.unit, cooling_min=chart.cooling_min,
                burns_before_cooling=chart.burns_before_cooling, wait_min=chart.wait_min,
                trial_on=chart.trial_on, trial_note=chart.trial_note,
            ),
            [step.cap_dry_kg for step in steps],
        )  # fmt: skip


def _write_rows(edition: Edition, rows: Sequence[Mapping[str, Any]], by: Person) -> None:
    """Many rows at once: whole or not at all, the first fault named."""
    refuse_if(len(rows) > MOST_ROWS, "rows", _("At most {most} rows make an edition.").format(most=MOST_ROWS))  # fmt: skip
    codes: set[str] = set()
    for row in rows:
        values = _checked(row)
        refuse_if(
            values["code"] in codes, "code", _("{code} stands twice.").format(code=values["code"])
        )
        codes.add(values["code"])
        _save_row(edition, values, by)


def _write_items(edition: Edition, items: Sequence[Mapping[str, Any]], by: Person) -> None:
    """Many items at once: whole or not at all, the first fault named."""
    refuse_if(len(items) > MOST_ITEMS, "checks", _("At most {most} items make a check list.").format(most=MOST_ITEMS))  # fmt: skip
    for item in items:
        save_item(edition, checked_item(item), by)


def checked_item(given: Mapping[str, Any]) -> dict[str, Any]:
    return _sound(check_item(given), given, _("Item"))


def save_item(edition: Edition, values: Mapping[str, Any], by: Person) -> CheckItem:
    """Write an item, or the one of that code anew. The same words do not stand twice."""
    assert door_is_open()
    twin = edition.checks.filter(text__iexact=values["text"]).exclude(code=values["code"]).first()
    refuse_if(
        twin is not None,
        "text",
        _("Item {code} says the same; each is looked at once.").format(code=twin and twin.code),
    )
    item = edition.checks.filter(code=values["code"]).first() or CheckItem(edition=edition)
    for field in ITEM_FIELDS:
        setattr(item, field, values[field])
    item.changed_by = by
    item.save()
    return item


def _checked(given: Mapping[str, Any]) -> dict[str, Any]:
    return _sound(check_row(given), given, _("Row"))


def _sound(checked: Checked, given: Mapping[str, Any], what: str) -> dict[str, Any]:
    if checked.faults:
        first = checked.faults[0]
        raise WrongValue(
            _("{what} {code}, {field}: {given} {sentence}.").format(
                what=what, code=given.get("code") or "?", field=first.field,
                given=first.given or _("nothing given"), sentence=first.sentence,
            ),
            field=first.field,
        )  # fmt: skip
    return checked.values


def _save_row(edition: Edition, values: Mapping[str, Any], by: Person) -> LimitRow:
    row = edition.rows.filter(code=values["code"]).first() or LimitRow(edition=edition)
    for field, value in values.items():
        setattr(row, field, value)
    row.changed_by = by
    row.save()
    return row


def open_draft(edition: Edition) -> Edition:
    """The edition as it is now, locked, while it may still be changed."""
    edition = edition.fresh()
    if edition.in_force_from is not None:
        raise WrongState(_("A row in force is never edited; a new edition takes its place."))
    if edition.proposed_at is not None or edition.withdrawn_at is not None:
        raise WrongState(_("This edition was proposed or withdrawn; it is not changed any more."))
    return edition


def write_row(
    edition: Edition, given: Mapping[str, Any], *, by: Person, new: bool = False,
    at: dt.datetime | None = None, once: str = "",
) -> LimitRow:  # fmt: skip
    """Add a row to a draft, or write the row of that code anew; ``new`` refuses to do the latter."""
    values = _checked(given)
    with door(
        "ground.row_written", by=by, site=edition.site, on=edition, at=at, once=once
    ) as entry:
        edition = open_draft(edition)
        old = edition.rows.filter(code=values["code"]).first()
        refuse_if(
            new and old is not None,
            "code",
            _("The draft has a row {code} already.").format(code=values["code"]),
        )
        before = {field: getattr(old, field) for field in FIELDS} if old else {}
        changed = {key: value for key, value in values.items() if before.get(key) != value}
        row = _save_row(edition, values, by)
        entry.changed(
            {key: before[key] for key in changed if key in before}, row=row.code, **changed
        )
    return row


def import_rows(
    edition: Edition, rows: Sequence[Mapping[str, Any]], *, by: Person,
    charts: Sequence[Mapping[str, Any]] = (), items: Sequence[Mapping[str, Any]] = (),
    at: dt.datetime | None = None, once: str = "",
) -> int:  # fmt: skip
    """Take rows, charts and items from a file into a draft, all or none.

    Rows the file leaves out are switched off, and items as well where it names any; charts of
    units it does not name stay.
    """
    refuse_if(not rows, "rows", _("There is no row in it; an edition is not emptied by an import."))
    with door(
        "ground.rows_imported", by=by, site=edition.site, on=edition, at=at, once=once
    ) as entry:
        edition = open_draft(edition)
        _write_rows(edition, rows, by)
        for chart in charts:
            _refuse_future_trial(edition, chart["trial_on"], entry.at)
            _write_chart(edition, by=by, **chart)
        _write_items(edition, items, by)
        if items:
            named = [str(item["code"]).strip() for item in items]
            edition.checks.filter(on=True).exclude(code__in=named).update(on=False, changed_by=by)
        codes = {str(row["code"]).strip() for row in rows}
        left_out = edition.rows.filter(on=True).exclude(code__in=codes)
        entry.changed(rows=len(rows), switched_off=[row.code for row in left_out],
                      charts=[chart["unit"] for chart in charts], items=len(items))  # fmt: skip
        left_out.update(on=False, changed_by=by)
    return len(rows)


def write_chart(
    edition: Edition, unit: Unit, *, caps_dry_kg: Sequence[Decimal], burns_before_cooling: int,
    cooling_min: int, wait_min: int, trial_on: dt.date, trial_note: str, by: Person,
    at: dt.datetime | None = None, once: str = "",
) -> BurnSequence:  # fmt: skip
    """Write a unit's burn-sequence chart into a draft, with the trial it rests on."""
    with door(
        "ground.chart_written", by=by, site=edition.site, on=edition, at=at, once=once
    ) as entry:
        edition = open_draft(edition)
        _refuse_future_trial(edition, trial_on, entry.at)
        chart = _write_chart(
            edition, unit=unit, caps_dry_kg=caps_dry_kg, burns_before_cooling=burns_before_cooling,
            cooling_min=cooling_min, wait_min=wait_min, trial_on=trial_on, trial_note=trial_note,
            by=by,
        )  # fmt: skip
        entry.changed(unit=unit, caps_dry_kg=list(caps_dry_kg), cooling_min=cooling_min,
                      burns_before_cooling=burns_before_cooling, wait_min=wait_min)  # fmt: skip
    return chart


def _refuse_future_trial(edition: Edition, trial_on: dt.date, at: dt.datetime) -> None:
    today = at.astimezone(edition.site.zone).date()
    refuse_if(trial_on > today, "trial_on", _("The trial was burned before the chart."))


def _write_chart(
    edition: Edition, *, unit: Unit, caps_dry_kg: Sequence[Decimal], trial_note: str, by: Person,
    **described: Any,
) -> BurnSequence:  # fmt: skip
    refuse_if(unit.site_id != edition.site_id, "unit", _("No such unit on this ground."))
    refuse_if(not caps_dry_kg, "caps_dry_kg", _("The first burn of the day needs a cap."))
    refuse_if(len(caps_dry_kg) > 12, "caps_dry_kg", _("At most 12 burns a day make a chart."))
    for cap in caps_dry_kg:
        number_between("caps_dry_kg", cap, 0, 5000, "kg", above=True)
    number_between("burns_before_cooling", described["burns_before_cooling"], 1, 50)
    number_between("cooling_min", described["cooling_min"], 0, 1440, "min")
    number_between("wait_min", described["wait_min"], 0, 1440, "min")
    chart = selectors.charts_for([edition], unit).get(edition.pk)
    chart = chart or BurnSequence(edition=edition, unit=unit)
    chart.trial_note = text_within("trial_note", trial_note, 200)
    chart.changed_by = by
    for field, value in described.items():
        setattr(chart, field, value)
    return _save_chart(chart, caps_dry_kg)


def _save_chart(chart: BurnSequence, caps: Sequence[Decimal]) -> BurnSequence:
    """Save the chart and its steps; a step that a draft no longer has is kept, dropped."""
    chart.save()
    chart.steps.filter(nth__gt=len(caps)).update(dropped=True)
    for nth, cap in enumerate(caps, start=1):
        step = chart.steps.filter(nth=nth).first() or BurnSequenceStep(chart=chart, nth=nth)
        step.cap_dry_kg, step.dropped = cap, False
        step.save()
    return chart


def propose_edition(
    edition: Edition, *, by: Person, at: dt.datetime | None = None, once: str = ""
) -> None:
    """Close a draft and lay it before the one who may put it in force."""
    with door(
        "ground.edition_proposed", by=by, site=edition.site, on=edition, at=at, once=once
    ) as entry:
        edition = open_draft(edition)
        empty = not edition.rows.filter(on=True).exists() and not edition.charts.exists()
        refuse_if(empty, "rows", _("No row is switched on yet, and no unit has a chart."))
        edition.proposed_by, edition.proposed_at = by, entry.at
        edition.save()
        entry.changed(code=edition.code, rows=edition.rows.filter(on=True).count())


def return_edition(
    edition: Edition, *, reason: str, by: Person, at: dt.datetime | None = None, once: str = ""
) -> None:
    """Give a proposed edition back to its authors, with the reason."""
    reason = text_within("reason", reason, 300)
    with door(
        "ground.edition_returned", by=by, site=edition.site, on=edition, at=at, why=reason,
        once=once,
    ) as entry:  # fmt: skip
        edition = _proposed(edition)
        edition.proposed_at = None
        edition.save()
        entry.changed({"state": "proposed"}, state="draft")


def _proposed(edition: Edition) -> Edition:
    edition = edition.fresh()
    if edition.in_force_from is not None:
        raise WrongState(_("This edition was put in force before."))
    if edition.proposed_at is None or edition.withdrawn_at is not None:
        raise WrongState(_("This edition is not proposed."))
    return edition


def withdraw_edition(
    edition: Edition, *, reason: str, by: Person, at: dt.datetime | None = None, once: str = ""
) -> None:
    """Give up a draft for good; it stays to be read."""
    reason = text_within("reason", reason, 300)
    with door(
        "ground.edition_withdrawn", by=by, site=edition.site, on=edition, at=at, why=reason,
        once=once,
    ) as entry:  # fmt: skip
        edition = open_draft(edition)
        edition.withdrawn_at = entry.at
        edition.save()


def adopt_edition(
    edition: Edition, *, in_force_from: dt.date, by: Person, meaning: str = "put in force",
    shown_hash: str = "", at: dt.datetime | None = None, once: str = "",
) -> None:  # fmt: skip
    """Put an edition in force; the one before ends the day before. Not by anyone who wrote in it.

    ``shown_hash`` is the fingerprint of what was shown to whoever decides; a program that shows
    nothing leaves it empty.
    """
    with door(
        "ground.edition_adopted", by=by, site=edition.site, on=edition, at=at, once=once
    ) as entry:
        if wrote_in(edition, by):
            raise OwnWork(_("An edition is put in force by someone who did not write in it."))
        edition = _proposed(edition)
        fingerprint = selectors.fingerprint(edition)
        if shown_hash and shown_hash != fingerprint:
            raise StaleVersion(_("This edition was changed since you opened it; read it again."))
        today = entry.at.astimezone(edition.site.zone).date()
        refuse_if(
            in_force_from < today,
            "in_force_from",
            _("An edition is not put in force for the past."),
        )
        _end_the_one_before(edition, in_force_from)
        edition.adopted_by, edition.in_force_from = by, in_force_from
        edition.save()
        entry.changed(in_force_from=in_force_from)
        signed(entry, meaning=meaning, content_hash=fingerprint)


def _end_the_one_before(edition: Edition, in_force_from: dt.date) -> None:
    assert door_is_open()
    line = Edition.objects.filter(
        site=edition.site, jurisdiction=edition.jurisdiction, in_force_from__isnull=False
    )
    last = line.order_by("-in_force_from").first()
    edition.supersedes = last
    if last is None or last.in_force_from is None:
        return
    refuse_if(
        last.in_force_from >= in_force_from,
        "in_force_from",
        _("An edition starts after the one before it started, {day}.").format(
            day=day_in_words(last.in_force_from)
        ),
    )
    refuse_if(
        last.in_force_to is not None and last.in_force_to >= in_force_from,
        "in_force_from",
        _("{code} is in force until {day}; a new edition starts after that.").format(
            code=last.code, day=last.in_force_to and day_in_words(last.in_force_to)
        ),
    )
    if last.in_force_to is None:
        last.in_force_to = in_force_from - dt.timedelta(days=1)
        last.save()
