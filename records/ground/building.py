"""What a unit is made of, and how that changes: modified, moved, relined.

Each change is a new version of the make-up, kept whole; the rows of the unit's parts are what
stands now. A part keeps its key through all versions, so that a plan or a defect still finds it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from django.db.models import Max
from django.utils import timezone
from django.utils.translation import gettext as _

from facility.guarded import door_is_open
from facility.look.times import moment
from facility.people.models import Person
from facility.refusals import (
    StaleVersion,
    WrongMakeUp,
    WrongState,
    not_future,
    number_between,
    refuse_if,
    text_within,
)
from facility.sites.makeup import PARTS, SIZES, MakeUp, as_data, described, faults
from facility.sites.models import Unit, UnitKind
from records.audit.door import door
from records.ground.models import ChangeKind, UnitVersion

Rows = Mapping[str, Sequence[Mapping[str, Any]]]
LIMITS = ("max_people", "max_charge_kg", "max_burns_day", "cool_down_min")
MOST_PARTS = 24  # of one kind


def change_unit(
    unit: Unit, *, kind: str, description: Mapping[str, Any], parts: Rows, what: str,
    since: dt.datetime, seen_version: int, by: Person, document: str = "",
    at: dt.datetime | None = None, once: str = "",
) -> UnitVersion:  # fmt: skip
    """Write down that a unit was modified, moved or relined, with the make-up it has from then on.

    ``description`` holds the sizes, wall and handover limits, ``parts`` the fields of each part by
    kind. A part is the same as before when it carries its ``key``; one that is left out is gone.
    """
    refuse_if(
        kind not in (ChangeKind.MODIFIED, ChangeKind.MOVED, ChangeKind.RELINED),
        "what_happened",
        _("Choose what happened to the unit."),
    )
    what = text_within("what", what, 500)
    document = text_within("document", document, 120, needed=False)
    not_future("since", since, at or timezone.now())
    made = checked(unit.name, {"kind": unit.kind, **description}, parts)
    with door("ground.unit_changed", by=by, site=unit.site, on=unit, at=at, once=once) as entry:
        unit = unit.fresh()
        _refuse_retired(unit, entry.at)
        newest = unit.versions.order_by("-number").first()
        if newest is not None and newest.number != seen_version:
            raise StaleVersion(
                _("Version {number} of this unit was saved while you were working on it.").format(
                    number=newest.number
                )
            )
        refuse_if(
            newest is not None and since < newest.since,
            "since",
            _("That lies before the change before, of {when}.").format(
                when=moment(newest.since, unit.site.zone) if newest else ""
            ),
        )
        entry.changed({name: getattr(unit, name) for name in LIMITS})
        for name, value in description.items():
            if name not in ("name", "kind", "commissioned_on"):
                setattr(unit, name, value)
        unit.save()
        fit(unit, made)
        version = keep_version(
            unit, kind, made, since=since, what=what, document=document, by=by, at=entry.at
        )
        entry.changed(
            kind=ChangeKind(kind),
            version=version.number,
            what=what,
            **{name: getattr(unit, name) for name in LIMITS},
        )
    return version


def _refuse_retired(unit: Unit, at: dt.datetime) -> None:
    if unit.retired_on is not None and unit.retired_on <= at.date():
        raise WrongState(_("{unit} is retired; it does not change any more.").format(unit=unit))


def checked(name: str, description: Mapping[str, Any], parts: Rows) -> MakeUp:
    """The make-up as described; refused where it cannot be, or where its limits make no sense."""
    for size in SIZES:
        number_between(size, description[size], 0.5, 60, "m")
    _check_limits(description)
    for kind, rows in parts.items():
        refuse_if(
            len(rows) > MOST_PARTS,
            kind,
            _("At most {most} of one kind are kept.").format(most=MOST_PARTS),
        )
    made = described(name, description, parts)
    wrong = faults(made)
    if wrong:
        raise WrongMakeUp(wrong)
    return made


def _check_limits(description: Mapping[str, Any]) -> None:
    people = number_between("max_people", description["max_people"], 0, 60)
    refuse_if(
        description["kind"] == UnitKind.WINDOW and people > 0,
        "max_people",
        _("Nobody enters a window unit: {given} was given, 0 is allowed.").format(given=people),
    )
    bounds = {
        "max_charge_kg": (5000, "kg"),
        "max_burns_day": (24, ""),
        "cool_down_min": (1440, "min"),
    }
    for name, (highest, unit) in bounds.items():
        value = description.get(name)
        if value is not None:
            number_between(name, value, 0, highest, unit, above=True)


def fit(unit: Unit, made: MakeUp) -> None:
    """Make the rows of a unit's parts what the make-up says. Called behind an open door."""
    assert door_is_open()
    for kind in PARTS:
        model: Any = PARTS[kind]
        held = {part.public_id: part for part in model._base_manager.filter(unit=unit)}
        wanted = list(getattr(made, kind))
        kept = {part.public_id for part in wanted}
        for part in held.values():
            if part.fitted and part.public_id not in kept:
                part.fitted = False
                part.save()
        for order, part in enumerate(wanted):
            row = held.get(part.public_id) or model(unit=unit, public_id=part.public_id)
            for name in model.DESCRIBED:
                setattr(row, name, _stripped(getattr(part, name)))
            row.fitted = True
            if hasattr(row, "order"):
                row.order = order
            row.save()


def _stripped(value: Any) -> Any:
    return value.strip() if type(value) is str else value


def keep_version(
    unit: Unit, kind: str, made: MakeUp, *, since: dt.datetime, by: Person, at: dt.datetime,
    what: str = "", document: str = "",
) -> UnitVersion:  # fmt: skip
    """Keep a make-up for good as the next version. Called behind an open door."""
    assert door_is_open()
    last = unit.versions.aggregate(last=Max("number"))["last"] or 0
    version = UnitVersion(
        unit=unit, number=last + 1, kind=kind, since=since, what=what, document=document,
        make_up=as_data(made), limits={name: _plain(getattr(unit, name)) for name in LIMITS},
        written_by=by, recorded_at=at,
    )  # fmt: skip
    version.save()
    return version


def _plain(value: Any) -> Any:
    return str(value) if isinstance(value, Decimal) else value
