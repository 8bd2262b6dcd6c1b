"""What can happen to the state of a unit: inspection, defect, stop, repair, return to service."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from django.utils import timezone
from django.utils.translation import gettext as _

from facility.guarded import door_is_open
from facility.people.models import Person
from facility.refusals import (
    OwnWork,
    StaleVersion,
    WrongState,
    not_future,
    number_between,
    refuse_if,
    text_within,
)
from facility.sites.models import Unit
from records.audit.door import EntryDraft, door
from records.audit.signing import signed
from records.inspections.checklists import STRUCTURAL
from records.inspections.content import content_hash
from records.inspections.models import (
    Defect,
    DefectSeverity,
    Inspection,
    InspectionItem,
    InspectionKind,
    Outcome,
    Release,
    Repair,
    ThicknessReading,
)

RETURN = "return to service"  # what the signature means


@dataclass(frozen=True, slots=True)
class DefectFound:
    """What was found wrong, where, and how bad it is."""

    severity: str
    place: str
    description: str


def inspect_unit(
    unit: Unit, *, outcome: str, done_at: dt.datetime, items: Mapping[str, bool], note: str,
    by: Person, defect: DefectFound | None = None, thickness: Mapping[str, Decimal] | None = None,
    at: dt.datetime | None = None, once: str = "",
) -> Inspection:  # fmt: skip
    """Record a structural inspection; a defect found with it may take the unit out of service.

    ``thickness`` maps marked points of the wall to their thickness [mm].
    """
    for point, measured in (thickness or {}).items():
        text_within("thickness", point, 12)
        number_between("thickness", measured, 0, 50, "mm", above=True)
    not_future("done_at", done_at, at or timezone.now())
    refuse_if(outcome not in Outcome.values, "outcome", _("Choose one of the results."))
    missing = [str(item) for item in STRUCTURAL if str(item) not in items]
    refuse_if(missing, "items", _("Not looked at: {items}.").format(items="; ".join(missing)))
    faults = outcome in (Outcome.DEFECT, Outcome.UNFIT) or not all(items.values())
    refuse_if(
        outcome == Outcome.GOOD and (faults or defect is not None),
        "outcome",
        _("Something is not in order; the result cannot be good."),
    )
    refuse_if(
        faults and defect is None,
        "description",
        _("Something is not in order: describe it as a defect."),
    )
    refuse_if(
        outcome == Outcome.UNFIT
        and defect is not None
        and defect.severity != DefectSeverity.UNSAFE,
        "severity",
        _("A unit that is unfit for burning is out of service: choose unsafe."),
    )
    with door("inspections.unit_inspected", by=by, site=unit.site, at=at, once=once) as entry:
        inspection = file_check(
            unit, InspectionKind.STRUCTURAL, outcome, items, note, by=by, done_at=done_at
        )
        ThicknessReading.objects.bulk_create(
            ThicknessReading(inspection=inspection, point=point, thickness_mm=measured)
            for point, measured in (thickness or {}).items()
        )
        entry.on(inspection)
        entry.changed(unit=unit, outcome=outcome, thickness=thickness or {})
        if defect is not None:
            _open_defect(unit, defect, by=by, found_at=done_at, entry=entry, inspection=inspection)
    return inspection


def file_check(
    unit: Unit, kind: InspectionKind, outcome: str, items: Mapping[str, bool], note: str, *,
    by: Person, done_at: dt.datetime,
) -> Inspection:  # fmt: skip
    """File a check with its items. Called behind an open door, here and by the burn services."""
    assert door_is_open()
    inspection = Inspection(
        unit=unit, kind=kind, outcome=outcome, done_at=done_at, recorded_at=timezone.now(),
        done_by=by, note=text_within("note", note, 500, needed=False),
    )  # fmt: skip
    inspection.save()
    InspectionItem.objects.bulk_create(
        InspectionItem(inspection=inspection, item=item, in_order=in_order)
        for item, in_order in items.items()
    )
    return inspection


def _open_defect(
    unit: Unit, found: DefectFound, *, by: Person, found_at: dt.datetime, entry: EntryDraft,
    inspection: Inspection | None = None,
) -> Defect:  # fmt: skip
    refuse_if(found.severity not in DefectSeverity.values, "severity", _("Choose how bad it is."))
    defect = Defect(
        unit=unit, inspection=inspection, severity=found.severity,
        place=text_within("place", found.place, 80),
        description=text_within("description", found.description, 500),
        found_at=found_at, recorded_at=entry.at, found_by=by,
    )  # fmt: skip
    defect.save()
    entry.changed(defect=defect, severity=found.severity, place=defect.place)
    return defect


def open_defect_behind_door(
    inspection: Inspection, found: DefectFound, *, by: Person, entry: EntryDraft
) -> Defect:
    """Open a defect that a burn's own check found."""
    assert door_is_open()
    return _open_defect(
        inspection.unit, found, by=by, found_at=inspection.done_at, entry=entry,
        inspection=inspection,
    )  # fmt: skip


def stop_unit(
    unit: Unit, *, place: str, description: str, by: Person, at: dt.datetime | None = None,
    once: str = "",
) -> Defect:  # fmt: skip
    """Take a unit out of service at once; anyone with a working role here may."""
    with door(
        "inspections.unit_stopped", by=by, site=unit.site, on=unit, at=at, once=once
    ) as entry:
        return _open_defect(
            unit, DefectFound(DefectSeverity.UNSAFE, place, description), by=by,
            found_at=entry.at, entry=entry,
        )  # fmt: skip


def record_repair(
    defect: Defect, *, what: str, done_by: Person, done_at: dt.datetime, by: Person,
    at: dt.datetime | None = None, once: str = "",
) -> Repair:  # fmt: skip
    not_future("done_at", done_at, at or timezone.now())
    refuse_if(
        done_at < defect.found_at,
        "done_at",
        _("The repair cannot come before the defect was found."),
    )
    refuse_if(
        not defect.unit.site.roles.filter(person=done_by).exists(),
        "done_by",
        _("No such person on this ground."),
    )
    what = text_within("what", what, 500)
    with door(
        "inspections.repair_recorded", by=by, site=defect.unit.site, on=defect, at=at, once=once
    ) as entry:
        _refuse_closed(defect)
        repair = Repair(
            defect=defect, what=what, done_at=done_at, recorded_at=entry.at, done_by=done_by,
            recorded_by=by,
        )  # fmt: skip
        repair.save()
        entry.changed(what=what, done_by=done_by)
    return repair


def release_unit(
    defect: Defect, *, statement: str, by: Person, meaning: str = RETURN, shown_hash: str = "",
    at: dt.datetime | None = None, once: str = "",
) -> Release:  # fmt: skip
    """Return to service: closes the defect. Not by anyone who worked on the repair.

    ``shown_hash`` is that of the defect and repairs shown to whoever signs, where a page was.
    """
    statement = text_within("statement", statement, 500)
    with door(
        "inspections.unit_released", by=by, site=defect.unit.site, on=defect, at=at, once=once
    ) as entry:
        _refuse_closed(defect)
        repairs = list(defect.repairs.all())
        if not repairs:
            raise WrongState(_("No repair is recorded; there is nothing to release yet."))
        if by.pk in {
            key for repair in repairs for key in (repair.done_by_id, repair.recorded_by_id)
        }:
            raise OwnWork(_("You are on the repair; someone else returns the unit to service."))
        content = content_hash(defect)
        if shown_hash and shown_hash != content:
            raise StaleVersion(
                _("Another repair was recorded since you opened this; read it again.")
            )
        release = Release(
            defect=defect, statement=statement, released_at=entry.at, recorded_at=timezone.now(),
            released_by=by,
        )  # fmt: skip
        release.save()
        signed(entry, meaning=meaning, content_hash=content)
        entry.changed(unit=defect.unit, statement=statement)
    return release


def _refuse_closed(defect: Defect) -> None:
    Unit.objects.select_for_update().get(pk=defect.unit_id)  # one release at a time
    if Release.objects.filter(defect=defect).exists():
        raise WrongState(_("This defect was closed by a return to service."))
