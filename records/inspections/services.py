"""What can happen to the state of a unit: inspection, defect, stop, repair, return to service."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Max
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from facility.guarded import door_is_open
from facility.look.times import day_in_words
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
from facility.sites.makeup import make_up_of, named_parts
from facility.sites.models import Unit
from records.audit.door import EntryDraft, door
from records.audit.signing import signed
from records.inspections.checklists import list_of
from records.inspections.content import content_hash
from records.inspections.gauging import (
    Gauge,
    Repeats,
    check_gauge,
    check_readings,
    keep_readings,
    refuse_retired,
)
from records.inspections.looking import Look, check_looks, keep_looks
from records.inspections.models import (
    SCHEDULED,
    Defect,
    DefectSeverity,
    Inspection,
    InspectionItem,
    InspectionKind,
    Outcome,
    Release,
    Repair,
    Verification,
)
from records.inspections.selectors import DefectStage, stage_of

RETURN = "return to service"  # what the signature means


# From which stage of a defect what is done about it may start.
MAY_START_FROM: dict[str, frozenset[str]] = {
    "repair": frozenset({DefectStage.OPEN, DefectStage.REPAIRED, DefectStage.CHECKED}),
    "verify": frozenset({DefectStage.REPAIRED, DefectStage.CHECKED}),
    "release": frozenset({DefectStage.CHECKED}),
}


@dataclass(frozen=True, slots=True)
class DefectFound:
    """What was found wrong, where, how bad it is, and what it forbids while it is open.

    ``part`` is the key of a part of the unit, whose name stands for the place where none is given.
    """

    severity: str
    place: str
    description: str
    part: str = ""
    no_entry: bool = False
    most_boards: int | None = None
    most_dry_kg: Decimal | None = None

    @property
    def restricts(self) -> bool:
        return self.no_entry or self.most_boards is not None or self.most_dry_kg is not None


def inspect_unit(
    unit: Unit, *, outcome: str, done_at: dt.datetime, items: Mapping[str, bool], note: str,
    by: Person, defect: DefectFound | None = None, looks: Mapping[str, Look] | None = None,
    readings: Repeats | None = None, gauge: Gauge | None = None, readings_why: str = "",
    kind: str = InspectionKind.STRUCTURAL, at: dt.datetime | None = None, once: str = "",
) -> Inspection:  # fmt: skip
    """Record an inspection that comes due; a defect found with it may take the unit out of service.

    ``looks`` says by the key of a part what was found there; each defect or unfit part opens a
    defect of its own, but for the part that ``defect`` is about. ``readings`` are those of the
    ``gauge`` at marked points of the wall [mm], several where a point was read several times.
    """
    not_future("done_at", done_at, at or timezone.now())
    refuse_if(kind not in SCHEDULED, "kind", _("Choose which inspection this is."))
    _refuse_before_commissioning(unit, done_at)
    if readings:
        check_gauge(gauge, done_at.astimezone(unit.site.zone).date())
        check_readings(unit, readings, readings_why, done_at)
    readings_why = text_within("thickness_why", readings_why, 300, needed=False)
    refuse_if(outcome not in Outcome.values, "outcome", _("Choose one of the results."))
    missing = [str(item) for item in list_of(kind) if str(item) not in items]
    refuse_if(missing, "items", _("Not looked at: {items}.").format(items="; ".join(missing)))
    looks = looks or {}
    names = check_looks(unit, looks, outcome)
    opened = {
        part: _defect_at(part, look)
        for part, look in looks.items()
        if look.is_fault and (defect is None or defect.part != part)
    }
    found = [*([defect] if defect else []), *opened.values()]
    _refuse_result(outcome, all(items.values()), found)
    with door("inspections.unit_inspected", by=by, site=unit.site, at=at, once=once) as entry:
        refuse_retired(unit, entry.at)
        inspection = file_check(
            unit, InspectionKind(kind), outcome, items, note, by=by, done_at=done_at,
            thickness_why=readings_why if readings else "",
        )  # fmt: skip
        if readings and gauge is not None:
            keep_readings(inspection, readings, gauge)
        entry.on(inspection)
        entry.changed(unit=unit, kind=str(kind), outcome=outcome, thickness=readings or {})
        made = {
            each.part: _open_defect(
                unit, each, by=by, found_at=done_at, entry=entry, inspection=inspection
            )
            for each in found
        }
        keep_looks(inspection, looks, names, made, by=by, entry=entry)
    return inspection


def _defect_at(part: str, look: Look) -> DefectFound:
    """The defect that a look at a part comes to: what was noted, restricting or unsafe."""
    refuse_if(
        not look.note.strip(), f"note_{part}", _("Something is not in order: say what is wrong.")
    )
    unfit = look.result == Outcome.UNFIT
    severity = DefectSeverity.UNSAFE if unfit else DefectSeverity.RESTRICTS
    return DefectFound(severity, "", look.note, part)


def _refuse_result(outcome: str, in_order: bool, found: list[DefectFound]) -> None:
    """Refuse a result that does not fit what was found."""
    faults = outcome in (Outcome.DEFECT, Outcome.UNFIT) or not in_order
    refuse_if(
        outcome == Outcome.GOOD and (faults or bool(found)),
        "outcome",
        _("Something is not in order; the result cannot be good."),
    )
    refuse_if(
        faults and not found,
        "description",
        _("Something is not in order: describe it as a defect."),
    )
    refuse_if(
        outcome == Outcome.UNFIT and all(each.severity != DefectSeverity.UNSAFE for each in found),
        "severity",
        _("A unit that is unfit for burning is out of service: choose unsafe."),
    )


def file_check(
    unit: Unit, kind: InspectionKind, outcome: str, items: Mapping[str, bool], note: str, *,
    by: Person, done_at: dt.datetime, thickness_why: str = "",
) -> Inspection:  # fmt: skip
    """File a check with its items. Called behind an open door, here and by the burn services."""
    assert door_is_open()
    inspection = Inspection(
        unit=unit, kind=kind, outcome=outcome, done_at=done_at, recorded_at=timezone.now(),
        done_by=by, note=text_within("note", note, 500, needed=False),
        thickness_why=thickness_why,
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
    _check_restrictions(found)
    defect = Defect(
        unit=unit, inspection=inspection, severity=found.severity, part=found.part,
        place=text_within("place", found.place.strip() or _name_of(unit, found.part), 80),
        description=text_within("description", found.description, 500),
        no_entry=found.no_entry, most_boards=found.most_boards, most_dry_kg=found.most_dry_kg,
        found_at=found_at, recorded_at=entry.at, found_by=by,
    )  # fmt: skip
    defect.save()
    entry.changed(defect=defect, severity=found.severity, place=defect.place)
    if found.restricts:
        entry.changed(
            no_entry=found.no_entry, most_boards=found.most_boards, most_dry_kg=found.most_dry_kg
        )
    return defect


def _check_restrictions(found: DefectFound) -> None:
    refuse_if(
        found.restricts and found.severity == DefectSeverity.MONITOR,
        "severity",
        _("A defect that is only watched forbids nothing: choose restricts use, or take it away."),
    )
    if found.most_boards is not None:
        number_between("most_boards", found.most_boards, 0, 200)
    if found.most_dry_kg is not None:
        number_between("most_dry_kg", found.most_dry_kg, 0, 5000, "kg")


def _name_of(unit: Unit, part: str) -> str:
    """The name of a part of the unit; refused when it has no such part. Empty where none is named."""
    if not part:
        return ""
    names = dict(named_parts(make_up_of(unit)))
    refuse_if(part not in names, "part", _("The unit has no such part."))
    return names[part]


def _refuse_before_commissioning(unit: Unit, when: dt.datetime) -> None:
    refuse_if(
        when.astimezone(unit.site.zone).date() < unit.commissioned_on,
        "done_at",
        _("The unit was commissioned on {day}; nothing was inspected before that.").format(
            day=day_in_words(unit.commissioned_on)
        ),
    )


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
    unit: Unit, *, place: str, description: str, by: Person, part: str = "",
    at: dt.datetime | None = None, once: str = "",
) -> Defect:  # fmt: skip
    """Take a unit out of service at once; anyone with a working role here may."""
    with door(
        "inspections.unit_stopped", by=by, site=unit.site, on=unit, at=at, once=once
    ) as entry:
        refuse_retired(unit, entry.at)
        return _open_defect(
            unit, DefectFound(DefectSeverity.UNSAFE, place, description, part), by=by,
            found_at=entry.at, entry=entry,
        )  # fmt: skip


def record_repair(
    defect: Defect, *, what: str, done_by: Person, done_at: dt.datetime, by: Person,
    contractor: str = "", material: str = "", cost: Decimal | None = None,
    at: dt.datetime | None = None, once: str = "",
) -> Repair:  # fmt: skip
    """Record work on a defect: by whom of our people or led by them, by which contractor, with
    what material, at what cost (in the ground's money)."""
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
    contractor = text_within("contractor", contractor, 80, needed=False)
    material = text_within("material", material, 200, needed=False)
    if cost is not None:
        number_between("cost", cost, 0, 9_999_999)
    with door(
        "inspections.repair_recorded", by=by, site=defect.unit.site, on=defect, at=at, once=once
    ) as entry:
        _refuse_stage(defect, "repair", entry.at)
        repair = Repair(
            defect=defect, what=what, contractor=contractor, material=material, cost=cost,
            done_at=done_at, recorded_at=entry.at, done_by=done_by, recorded_by=by,
        )  # fmt: skip
        repair.save()
        entry.changed(
            what=what, contractor=contractor, material=material, cost=cost, done_by=done_by
        )
    return repair


def verify_repair(
    defect: Defect, *, checked: str, holds: bool, done_at: dt.datetime, by: Person,
    at: dt.datetime | None = None, once: str = "",
) -> Verification:  # fmt: skip
    """Record what was checked after a repair, and whether it holds: the evidence of a release."""
    checked = text_within("checked", checked, 500)
    not_future("done_at", done_at, at or timezone.now())
    with door(
        "inspections.repair_verified", by=by, site=defect.unit.site, on=defect, at=at, once=once
    ) as entry:
        _refuse_stage(defect, "verify", entry.at)
        newest = defect.repairs.aggregate(last=Max("done_at"))["last"]
        refuse_if(
            newest is not None and done_at < newest,
            "done_at",
            _("A repair is checked after it is done."),
        )
        verification = Verification(
            defect=defect, checked=checked, holds=holds, done_at=done_at, recorded_at=entry.at,
            done_by=by,
        )  # fmt: skip
        verification.save()
        entry.changed(checked=checked, holds=holds)
    return verification


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
        Unit.objects.select_for_update(no_key=True).get(pk=defect.unit_id)  # one release at a time
        hands = defect.repairs.values_list("done_by", "recorded_by")
        if by.pk in {key for pair in hands for key in pair}:
            raise OwnWork(_("You are on the repair; someone else returns the unit to service."))
        content = content_hash(defect)
        if shown_hash and shown_hash != content and stage_of(defect) != DefectStage.CLOSED:
            raise StaleVersion(
                _("Another repair or check was recorded since you opened this; read it again.")
            )
        _refuse_stage(defect, "release", entry.at)
        release = Release(
            defect=defect, statement=statement, released_at=entry.at, recorded_at=timezone.now(),
            released_by=by,
        )  # fmt: skip
        release.save()
        signed(entry, meaning=meaning, content_hash=content)
        entry.changed(unit=defect.unit, statement=statement)
    return release


WHY_NOT = {
    DefectStage.OPEN: gettext_lazy(
        "No repair is recorded; there is nothing to check or release yet."
    ),
    DefectStage.REPAIRED: gettext_lazy(
        "Nobody has recorded what was checked after the repair, and that it holds: without that "
        "evidence the defect stays open."
    ),
    DefectStage.CLOSED: gettext_lazy("This defect was closed by a return to service."),
}


def _refuse_stage(defect: Defect, act: str, at: dt.datetime) -> None:
    """Refuse what the stage of a defect does not allow."""
    unit = Unit.objects.select_for_update(no_key=True).get(
        pk=defect.unit_id
    )  # one release at a time
    refuse_retired(unit, at)
    stage = stage_of(defect)
    if stage not in MAY_START_FROM[act]:
        raise WrongState(str(WHY_NOT[stage]))
