"""What belongs to a report beside the boards: water, exposure, remarks, and who signed it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from facility.guarded import door_is_open
from facility.kinds import INSIDE, Duty
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
from records.audit.door import EntryDraft, door
from records.audit.signing import signed
from records.burns.aftermath import sheet_hash
from records.burns.models import (
    Attendance,
    Burn,
    BurnReport,
    BurnSignature,
    BurnState,
    CloseSheet,
    Remark,
    RemarkKind,
    SignaturePart,
    Stay,
    WorkPosition,
)
from records.ground.services import post_exposures

CLOSES = gettext_noop("closed as it happened")
COUNTERSIGNS = gettext_noop("read, and agreed to as it happened")

USUALLY_AT = {
    Duty.IGNITION: WorkPosition.AT_FIRE, Duty.OBSERVER: WorkPosition.AT_FIRE,
    Duty.IN_CHARGE: WorkPosition.FRONT, Duty.CREW: WorkPosition.FRONT,
    Duty.LEARNER: WorkPosition.REAR, Duty.SAFETY: WorkPosition.OUTSIDE,
    Duty.PUMP: WorkPosition.OUTSIDE,
}  # fmt: skip
OVER_BURN_MIN = 60  # before ignition and after the fire is out, in smoke; our choice, no source


@dataclass(frozen=True, slots=True)
class Exposed:
    """How long and where one person was exposed; None is what is usual for the duty."""

    minutes: int | None = None
    position: str = ""


@dataclass(frozen=True, slots=True)
class After:
    """What whoever closes a burn says beside the boards. People left out were as is usual:
    those inside for the whole burn, those outside not at all."""

    water_l: Decimal | None = None
    unburnt_kg: Decimal | None = None
    exposed: Mapping[str, Exposed] = field(default_factory=dict)  # by the person's public id


def keep_after(
    report: BurnReport, after: After, *, countersign: str, entry: EntryDraft
) -> list[Stay]:
    """Keep it with the report. Called behind the door of closing or correcting."""
    assert door_is_open()
    for name, value, most, unit in (("water_l", after.water_l, 200_000, "L"),
                                    ("unburnt_kg", after.unburnt_kg, 5_000, "kg")):  # fmt: skip
        if value is not None:
            number_between(name, value, 0, most, unit)
            refuse_if(
                value != round(value, 1),
                name,
                _("One decimal is kept; {given} was given.").format(given=value),
            )
    CloseSheet(
        report=report, water_l=after.water_l, unburnt_kg=after.unburnt_kg,
        countersign=countersign[:80],
    ).save()  # fmt: skip
    stays = _stays(report, after.exposed)
    Stay.objects.bulk_create(stays)
    entry.changed(
        water_l=after.water_l, unburnt_kg=after.unburnt_kg,
        exposed=[[each.person, each.minutes, str(each.position)] for each in stays],
    )  # fmt: skip
    return stays


def _stays(report: BurnReport, exposed: Mapping[str, Exposed]) -> list[Stay]:
    there = report.burn.attendance.select_related("person__details").order_by("id")
    duties: dict[Person, list[str]] = {}
    for place in there:
        duties.setdefault(place.person, []).append(place.duty)
    unknown = set(exposed) - {person.public_id for person in duties}
    refuse_if(unknown, "exposed", _("Only people of this burn can be exposed at it."))
    return [
        _stay(report, person, held, exposed.get(person.public_id, Exposed()))
        for person, held in duties.items()
    ]


def _stay(report: BurnReport, person: Person, held: list[str], told: Exposed) -> Stay:
    """One person's: in the duty that is exposed the most, for which the order of duties stands."""
    duty = min(held, key=[str(each) for each in USUALLY_AT].index)
    minutes = told.minutes
    if minutes is None:
        minutes = burn_minutes(report) if set(held) & set(INSIDE) else 0
    key = person.public_id
    number_between(f"minutes_{key}", minutes, 0, burn_minutes(report) + OVER_BURN_MIN, "min")
    position = told.position or USUALLY_AT[Duty(duty)]
    refuse_if(
        position not in WorkPosition.values, f"position_{key}", _("This position is not known.")
    )
    refuse_if(
        duty == Duty.IGNITION and not minutes,
        f"minutes_{key}",
        _("{person} lit the fire and is counted as exposed.").format(person=person.name),
    )
    return Stay(report=report, person=person, duty=duty, position=position, minutes=minutes)


def burn_minutes(report: BurnReport) -> int:
    """The length of the burn [min], a started minute counted."""
    return -int(-(report.ended_at - report.burn.ignited_at).total_seconds() // 60)


def carried_over(old: BurnReport, ended_at: dt.datetime) -> After:
    """What the report before says, for a correction that leaves it: whoever was exposed for the
    whole burn is so for its new length."""
    sheet = CloseSheet.objects.filter(report=old).first()
    was = burn_minutes(old)
    exposed = {
        each.person.public_id: Exposed(None if each.minutes == was else each.minutes, each.position)
        for each in old.stays.select_related("person")
    }
    return After(sheet.water_l if sheet else None, sheet.unburnt_kg if sheet else None, exposed)


def asked_before(old: BurnReport) -> str:
    """Whether the burn was asked to be countersigned when it was closed: so is its correction."""
    sheet = CloseSheet.objects.filter(report=old).first()
    return sheet.countersign if sheet else ""


def exposed_of(stays: Iterable[Stay]) -> set[int]:
    return {each.person_id for each in stays if each.minutes}


def post_stays(burn: Burn, stays: Iterable[Stay], report: BurnReport, at: dt.datetime) -> None:
    """Add whoever was exposed to the ledger; whoever was counted before stays counted."""
    post_exposures(
        [each.person for each in stays if each.minutes], site=burn.site, burn=burn.public_id,
        ignited_at=burn.ignited_at, ended_at=report.ended_at, at=at,
    )  # fmt: skip


def refuse_taken_back(old: BurnReport, stays: Iterable[Stay]) -> None:
    """An exposure that was posted is corrected in its length, not taken back."""
    before = set(old.stays.filter(minutes__gt=0).values_list("person", flat=True))
    for each in stays:
        refuse_if(
            each.person_id in before and not each.minutes,
            f"minutes_{each.person.public_id}",
            _("{person} was counted as exposed; that is not taken back, only its length.").format(
                person=each.person.name
            ),
        )


def sign_report(
    report: BurnReport, part: SignaturePart, *, meaning: str, by: Person, entry: EntryDraft
) -> BurnSignature:
    """Bind a signature to what the report says now. Called behind the door of its act."""
    content = sheet_hash(report)
    signature = BurnSignature(
        report=report, part=part, content_hash=content, signed_by=by, signed_at=entry.at,
        meaning=signed(entry, meaning=meaning, content_hash=content),
    )  # fmt: skip
    signature.save()
    return signature


def countersign_burn(
    burn: Burn, *, shown_hash: str, by: Person, meaning: str = COUNTERSIGNS,
    at: dt.datetime | None = None, once: str = "",
) -> BurnSignature:  # fmt: skip
    """Sign a closed burn as the second person; never whoever wrote or signed its report."""
    with door(
        "burns.burn_countersigned", by=by, site=burn.site, on=burn, at=at, once=once
    ) as entry:
        burn = burn.fresh()
        report = burn.current
        if burn.state != BurnState.CLOSED or report is None:
            raise WrongState(_("A burn is countersigned after it is closed."))
        if report.signatures.filter(part=SignaturePart.COUNTERSIGN).exists():
            raise WrongState(_("This burn is countersigned."))
        if by.pk == report.written_by_id or report.signatures.filter(signed_by=by).exists():
            raise OwnWork(_("You wrote this report; another person countersigns it."))
        if shown_hash != sheet_hash(report):
            raise StaleVersion(_("Something was recorded since you opened this; read it again."))
        signature = sign_report(
            report, SignaturePart.COUNTERSIGN, meaning=meaning, by=by, entry=entry
        )
        entry.changed(report=report.number)
    return signature


def record_remark(
    burn: Burn, *, kind: str, what: str, happened_at: dt.datetime, by: Person, then: str = "",
    person: str = "", at: dt.datetime | None = None, once: str = "",
) -> Remark:  # fmt: skip
    """Record an injury, a near miss, a deviation with its reason, or an unusual condition.

    ``then`` says why it was done otherwise, or what was done about it. It may come late; then it
    shows that it came after the signatures.
    """
    refuse_if(kind not in RemarkKind.values, "kind", _("Choose what it is."))
    not_future("happened_at", happened_at, at or timezone.now())
    what = text_within("what", what, 500)
    then = text_within("then", then, 300, needed=kind in (RemarkKind.DEVIATION, RemarkKind.INJURY))
    with door("burns.remark_recorded", by=by, site=burn.site, on=burn, at=at, once=once) as entry:
        burn = burn.fresh()
        refuse_if(
            happened_at < burn.ignited_at - dt.timedelta(hours=12),
            "happened_at",
            _("This is long before the fire was lit; it belongs to another burn."),
        )
        whom = Attendance.objects.filter(burn=burn, person__public_id=person).first()
        refuse_if(person and whom is None, "person", _("This person was not at the burn."))
        remark = Remark(
            burn=burn, kind=kind, what=what, then=then, person=whom.person if whom else None,
            happened_at=happened_at, recorded_at=entry.at, recorded_by=by,
        )  # fmt: skip
        remark.save()
        entry.changed(kind=kind, what=what, then=then, person=remark.person)
    return remark
