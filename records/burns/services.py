"""What can happen at a burn: start, events, close, correction."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal

from django.db.models import F, Max, Min
from django.utils import timezone
from django.utils.translation import gettext as _

from facility.look.times import moment
from facility.people.models import Person
from facility.refusals import (
    LimitExceeded,
    StaleVersion,
    WrongState,
    in_order,
    not_future,
    number_between,
    plain_number,
    refuse_if,
    text_within,
)
from facility.rules.engine import Finding, Moment
from facility.rules.facts import Known
from records.audit.door import EntryDraft, door
from records.burns import before, readiness
from records.burns.aftermath import COUNTERSIGNED, asked_to_countersign
from records.burns.closing import (
    CLOSES,
    After,
    asked_before,
    carried_over,
    exposed_of,
    keep_after,
    post_stays,
    refuse_taken_back,
    sign_report,
)
from records.burns.counting import refuse_doubts_left, refuse_somebody_inside
from records.burns.models import (
    Attendance,
    Burn,
    BurnFuel,
    BurnReport,
    BurnState,
    EventKind,
    FireStage,
    SignaturePart,
    TimelineEvent,
)
from records.burns.readiness import Looked
from records.burns.selectors import burned_by_lot
from records.ground.services import post_use
from records.inspections.checklists import POST_BURN
from records.inspections.models import InspectionKind, Outcome
from records.inspections.services import DefectFound, file_check, open_defect_behind_door
from records.plans.content import Line, Place, PlanContent, content_of
from records.plans.figures import LineFigures, figures_of
from records.plans.judging import judge_plan
from records.plans.models import Plan, PlanVersion, Stage
from records.plans.selectors import issued_by_lot, still_out
from records.plans.services import (
    figures_as_issued,
    keep_facts,
    mark_burned,
    mark_burning,
    refuse_state,
    store_findings,
)
from records.stock.ledger import move
from records.stock.models import Lot, MovementKind
from records.stock.selectors import figures_for, lots_by_id
from records.stock.services import counted, refuse_finer_than_kept

TOLERANCE = dt.timedelta(hours=4)  # how far from its planned time a burn may start


def start_burn(
    plan: Plan, *, ignition_method: str, by: Person, ignited_at: dt.datetime,
    checks: Mapping[str, bool] | None = None, present: Collection[str] | None = None,
    weather: str = "", at: dt.datetime | None = None, once: str = "",
) -> Burn:  # fmt: skip
    """Light an approved plan: every check in order, the charge issued, every limit still met.

    ``checks`` are items, by their words, that whoever lights the fire has just looked at; those
    marked before (``before.look_at``) count as well. ``present`` holds the public ids of the
    people who are really there, by default everyone the roll found, or the whole crew of the plan
    where none was called; the plan's crew limits are judged for them, so a missing safety officer
    stops the burn here. ``weather`` in words is by default what was read last.
    """
    not_future("ignited_at", ignited_at, at or timezone.now())
    checks = checks or {}
    with door("burns.burn_started", by=by, site=plan.site, on=plan, at=at, once=once) as entry:
        version = mark_burning(plan, entry)
        looked = readiness.looked_at(version)
        _refuse_open_checks(looked, checks)
        crew = _there(version, present)
        _refuse_start(version, by, ignited_at, crew)
        weather = weather.strip() or _weather_read(version)
        figures = figures_as_issued(version)
        if not figures:
            raise WrongState(_("No charge was issued for this plan; the store issues it first."))
        content = _as_it_stands(version, crew, ignited_at)
        _refuse_people_at_another_fire(content)
        judgement = judge_plan(
            content, site=plan.site, at=entry.at, plan=plan, figures=figures, planned=False,
            moment=Moment.IGNITE,
            noted={
                **_noted_at_ignition(ignition_method, weather, complete=True),
                **_noted_before(version, crew),
            },
        )  # fmt: skip
        if judgement.blocking:
            raise LimitExceeded(judgement.blocking)
        store_findings(version, Stage.IGNITE, judgement, entry.at)
        keep_facts(version, judgement, ignited_at)
        burn = Burn(
            site=plan.site, unit=version.unit, version=version, nth_of_day=judgement.nth,
            ignited_at=ignited_at, started_by=by,
            ignition_method=text_within("ignition_method", ignition_method, 80),
            weather=text_within("weather", weather, 120),
            pre_check=file_check(
                version.unit, InspectionKind.PRE_BURN, Outcome.GOOD,
                _mark_now(version, looked, checks, by=by, seen_at=ignited_at, at=entry.at), "", by=by,
                done_at=ignited_at,
            ),
        )  # fmt: skip
        burn.save()
        for place in content.crew:
            Attendance(burn=burn, person=place.person, duty=place.duty).save()
        entry.on(burn)
        entry.changed(plan=plan, version=version.number, nth=judgement.nth)
    return burn


# Known only from whoever lights the fire; the check list and its items are shown by themselves.
TOLD_WHEN_LIT = frozenset({"burn.ignition_method", "burn.pre_check_complete"})


def what_stops(plan: Plan, *, at: dt.datetime) -> list[Finding]:
    """What of the standard would stop the fire now, as far as it is known before it is lit."""
    version = plan.version
    crew = readiness.places_on_the_day(version)
    lit = at if abs(at - version.starts_at) <= TOLERANCE else version.starts_at
    judgement = judge_plan(
        _as_it_stands(version, crew, lit), site=plan.site, at=at, plan=plan,
        figures=figures_as_issued(version) or None, planned=False, moment=Moment.IGNITE,
        noted={
            **_noted_at_ignition("", _weather_read(version), complete=True),
            **_noted_before(version, crew),
        },
    )  # fmt: skip
    return [each for each in judgement.blocking if each.rule.fact not in TOLD_WHEN_LIT]


def _there(version: PlanVersion, present: Collection[str] | None) -> list[Place]:
    """The places of the crew that are filled: those the roll found, or of them the ones named."""
    places = readiness.places_on_the_day(version)
    return [each for each in places if present is None or each.person.public_id in present]


def _weather_read(version: PlanVersion) -> str:
    read = readiness.newest_weather(version)
    return read.words if read else ""


def _noted_before(version: PlanVersion, crew: Sequence[Place]) -> dict[str, Known]:
    """What was recorded on the day before the fire: briefing, signatures, weather as read."""
    missed = readiness.not_briefed(version, [place.person for place in crew])
    names = ", ".join(person.name for person in missed)
    fit = readiness.fit_known(version)
    if fit.value and list(crew) != readiness.places_on_the_day(version):
        fit = Known(False, _("who is there is not whom the roll found"))
    return {
        **readiness.weather_facts(readiness.newest_weather(version)),
        "burn.all_briefed": Known(not missed, _("not briefed: {names}").format(names=names)),
        "burn.fit_to_burn": fit,
    }


def _mark_now(
    version: PlanVersion, looked: Sequence[Looked], checks: Mapping[str, bool], *, by: Person,
    seen_at: dt.datetime, at: dt.datetime,
) -> dict[str, bool]:  # fmt: skip
    """Keep what whoever lights the fire has just seen; gives the whole list as it was seen."""
    for each in looked:
        if checks.get(each.item.text) and each.is_open:
            seen = before.Look(in_order=True)
            before.keep_mark(version, each.item, seen, by=by, seen_at=seen_at, at=at)
    return {
        each.item.text: bool(checks.get(each.item.text)) or not each.is_open
        for each in looked
        if each.mark or each.item.text in checks
    }


def _noted_at_ignition(ignition_method: str, weather: str, *, complete: bool) -> dict[str, Known]:
    """What only the start of a burn can tell. That it is the one fire in the unit, and that the
    burn before was closed with its check, the start itself has made sure of."""
    return {
        "burn.ignition_method": Known(ignition_method.strip().lower()),
        "burn.weather_recorded": Known(bool(weather.strip())),
        "burn.pre_check_complete": Known(complete),
        "burn.fires_in_unit": Known(1.0),
        "burn.last_post_check": Known(True),
    }


def _noted_at_close(burn: Burn, checks: Mapping[str, bool]) -> dict[str, Known]:
    """What the close of a burn adds; boards handed out later are in its figures."""
    return {
        **_noted_at_ignition(burn.ignition_method, burn.weather, complete=True),
        "burn.post_check_complete": Known(all(str(item) in checks for item in POST_BURN)),
        "burn.all_counted_out": Known(checks[str(POST_BURN[1])]),
        "burn.added_fuel_counted": Known(True),
        # Closing posts them, whoever lit the fire among them, or is refused.
        "record.setter_counted": Known(True),
        "record.exposure_entered": Known(True),
    }


def _refuse_open_checks(looked: Sequence[Looked], checks: Mapping[str, bool]) -> None:
    """No fire while an item that blocks is open, marked before or looked at just now."""
    known = [each.item.text for each in looked]
    unknown = [item for item in checks if item not in known]
    refuse_if(unknown, "checks", _("Not on the check list: {items}.").format(items="; ".join(unknown)))  # fmt: skip
    asked = [each for each in looked if each.item.blocks]
    missing = [
        each.item.text for each in asked if each.mark is None and each.item.text not in checks
    ]
    open_items = [
        each.item.text for each in asked if not checks.get(each.item.text, not each.is_open)
    ]
    refuse_if(
        missing,
        "checks",
        _("Not looked at before the burn: {items}.").format(items="; ".join(missing)),
    )
    refuse_if(
        open_items,
        "checks",
        _("Not in order: {items}. The burn cannot start.").format(items="; ".join(open_items)),
    )


def _refuse_start(
    version: PlanVersion, by: Person, ignited_at: dt.datetime, crew: Sequence[Place]
) -> None:
    """What must be so before the standard is asked: who lights, and when."""
    running = Burn.objects.filter(unit=version.unit, state=BurnState.BURNING).first()
    if running is not None:
        raise WrongState(
            _("A burn in {unit} is not closed yet; close it first.").format(unit=version.unit)
        )
    gone = [line.position for line in version.charge.all() if not line.position.fitted]
    if gone:
        raise WrongState(
            _("{position} is no longer in the unit; the plan needs a new version.").format(
                position=gone[0]
            )
        )
    if by.pk not in {place.person.pk for place in crew}:
        raise WrongState(_("Only someone of the plan's crew who is present lights this burn."))
    refuse_if(
        abs(ignited_at - version.starts_at) > TOLERANCE,
        "ignited_at",
        _("The plan is for {planned}; more than {hours} hours off needs a new version.").format(
            planned=moment(version.starts_at),
            hours=TOLERANCE.seconds // 3600,
        ),
    )
    for earliest, words in _before_ignition(version):
        refuse_if(
            earliest is not None and ignited_at + A_MINUTE <= earliest,
            "ignited_at",
            _("Ignition cannot lie before {what}.").format(what=words),
        )


A_MINUTE = dt.timedelta(minutes=1)  # times are typed to the minute


def _before_ignition(version: PlanVersion) -> list[tuple[dt.datetime | None, str]]:
    """What an ignition follows: the approval, the issue, and the end of the burn before."""
    issued = version.issues.aggregate(last=Max("issued_at"))["last"]
    ended = BurnReport.objects.filter(burn__unit=version.unit, burn__current=F("pk"))
    return [
        (version.decision.signed_at, _("the approval of the plan")),
        (issued, _("the issue of the charge")),
        (ended.aggregate(last=Max("ended_at"))["last"], _("the end of the burn before")),
    ]


def _refuse_people_at_another_fire(content: PlanContent) -> None:
    people = [place.person.pk for place in content.crew]
    elsewhere = Attendance.objects.filter(burn__state=BurnState.BURNING, person__in=people)
    first = elsewhere.select_related("person__details", "burn__unit").first()
    if first is not None:
        raise WrongState(
            _("{person} is at the burn in {unit}, which is not closed.").format(
                person=first.person, unit=first.burn.unit
            )
        )


def _as_it_stands(
    version: PlanVersion, crew: Sequence[Place], ignited_at: dt.datetime
) -> PlanContent:
    """The plan's content with the people who are there and the time it is."""
    planned = content_of(version)
    return replace(
        planned,
        starts_at=ignited_at,
        ends_at=ignited_at + (planned.ends_at - planned.starts_at),
        crew=tuple(crew),
    )


def note_event(
    burn: Burn, *, kind: str, happened_at: dt.datetime, by: Person, stage: str = "",
    height_m: Decimal | None = None, opening: str = "", note: str = "",
    at: dt.datetime | None = None, once: str = "",
) -> TimelineEvent:  # fmt: skip
    """Note one observation of a running burn, by hand; the yard's tablets feed the others.

    ``opening`` is the public id of the opening that was opened or closed.
    """
    not_future("happened_at", happened_at, at or timezone.now())
    refuse_if(kind not in NOTED_BY_HAND, "kind", _("This kind of event is not known."))
    refuse_if(
        (kind in VENTS) != bool(opening),
        "opening",
        _("An opening is named where one was opened or closed, and only there."),
    )
    refuse_if(
        opening and not burn.unit.openings.filter(public_id=opening).exists(),
        "opening",
        _("This is no opening of the unit."),
    )
    refuse_if(
        (kind == EventKind.STAGE) != (stage in FireStage.values),
        "stage",
        _("A stage of the fire is named for a stage event, and only there."),
    )
    refuse_if(
        (kind == EventKind.NEUTRAL_PLANE) != (height_m is not None),
        "height_m",
        _("A height is given for the neutral plane, and only there."),
    )
    if height_m is not None:
        number_between("height_m", height_m, 0, float(burn.unit.height_m), "m")
    note = text_within("note", note, 200, needed=kind == EventKind.STOP)
    with door("burns.event_noted", by=by, site=burn.site, on=burn, at=at, once=once) as entry:
        burn = burn.fresh()
        if burn.state != BurnState.BURNING:
            raise WrongState(_("This burn is closed; correct its record instead."))
        refuse_if(
            happened_at < burn.ignited_at - dt.timedelta(minutes=1),
            "happened_at",
            _("The event lies before ignition."),
        )
        event = TimelineEvent(
            burn=burn, kind=kind, stage=stage, height_m=height_m, note=note,
            value={"opening": opening} if opening else {},
            happened_at=happened_at, recorded_at=entry.at, noted_by=by,
        )  # fmt: skip
        event.save()
        entry.changed(kind=kind, stage=stage, height_m=height_m)
    return event


VENTS = frozenset({EventKind.VENT_OPENED, EventKind.VENT_CLOSED})
NOTED_BY_HAND = VENTS | {
    EventKind.STAGE, EventKind.NEUTRAL_PLANE, EventKind.WATER, EventKind.STOP,
}  # fmt: skip


def close_burn(
    burn: Burn, *, ended_at: dt.datetime, used: Mapping[str, Decimal], checks: Mapping[str, bool],
    note: str, by: Person, defect: DefectFound | None = None, after: After | None = None,
    meaning: str = CLOSES, at: dt.datetime | None = None, once: str = "",
) -> BurnReport:  # fmt: skip
    """Close a burn and sign for it: its end, the boards really used by lot, who was exposed and
    how long, and the check after it.

    The unit's burn count goes up by this act. ``used`` maps a lot's public id to a quantity.
    ``after`` is by default what is usual: those inside were so for the whole burn.
    """
    not_future("ended_at", ended_at, at or timezone.now())
    in_order("ended_at", burn.ignited_at, ended_at)
    missing = [str(item) for item in POST_BURN if str(item) not in checks]
    refuse_if(
        missing,
        "checks",
        _("Not looked at after the burn: {items}.").format(items="; ".join(missing)),
    )
    faults = not all(checks.values())
    refuse_if(
        faults and defect is None,
        "description",
        _("Something is not in order after the burn: describe it as a defect."),
    )
    refuse_if(
        not all(checks[str(item)] for item in MUST_HOLD),
        "checks",
        _("A burn is closed when the fire is out and everyone is counted out, not before."),
    )
    with door("burns.burn_closed", by=by, site=burn.site, on=burn, at=at, once=once) as entry:
        burn.version.plan.fresh()  # locked before the burn, as returns do
        burn = burn.fresh()
        if not burn.attendance.filter(person=by).exists():
            raise WrongState(_("Only someone who was at the burn closes it."))
        _refuse_end(burn, ended_at)
        if burn.state != BurnState.BURNING:
            raise WrongState(_("This burn was closed before."))
        refuse_somebody_inside(burn, ended_at)
        refuse_doubts_left(burn)
        burn.post_check = file_check(
            burn.unit, InspectionKind.POST_BURN, Outcome.DEFECT if defect else Outcome.GOOD, checks,
            "", by=by, done_at=ended_at,
        )  # fmt: skip
        if defect is not None:
            open_defect_behind_door(burn.post_check, defect, by=by, entry=entry)
        report = _write_report(
            burn, 1, ended_at=ended_at, used=used, note=note, why="", by=by, entry=entry
        )
        # Judged before the ledgers count this burn.
        countersign = _judge_as_burned(burn, report, checks, entry)
        stays = keep_after(report, after or After(), countersign=countersign, entry=entry)
        burn.state = BurnState.CLOSED
        burn.save()
        mark_burned(burn.version.plan, entry)
        post_use(
            burn.unit, burn=burn.public_id, ignited_at=burn.ignited_at, ended_at=ended_at, burns=1,
            dry_mass_kg=report.dry_mass_kg, energy_mj=report.energy_mj,
        )  # fmt: skip
        post_stays(burn, stays, report, entry.at)
        sign_report(report, SignaturePart.CLOSE, meaning=meaning, by=by, entry=entry)
    return report


def _judge_as_burned(
    burn: Burn, report: BurnReport, checks: Mapping[str, bool], entry: EntryDraft
) -> str:
    """Keep what the standard says of the burn as it was. It refuses nothing: it happened.

    Gives the row that asks for a second signature, which can only come afterwards and is
    therefore no finding of the close. The unit and the lots are judged as they stood at ignition, the charge as it burned.
    """
    plan, lit = burn.version.plan, burn.ignited_at
    there = burn.attendance.select_related("person__details").order_by("id")
    crew = [Place(each.person, each.duty) for each in there]
    content = replace(_as_it_stands(burn.version, crew, lit), ends_at=report.ended_at)
    judgement = judge_plan(
        content, site=burn.site, at=lit, plan=plan, figures=_figures_as_burned(burn, report),
        planned=False, moment=Moment.CLOSE, noted=_noted_at_close(burn, checks),
    )  # fmt: skip
    kept = [each for each in judgement.findings if each.rule.fact != COUNTERSIGNED]
    store_findings(burn.version, Stage.CLOSE, replace(judgement, findings=kept), entry.at)
    return asked_to_countersign(judgement.findings)


def _figures_as_burned(burn: Burn, report: BurnReport) -> list[LineFigures]:
    """What burned, lot by lot; where it stood no longer matters to the sums."""
    fuel = [each for each in report.fuel.select_related("lot") if each.used]
    lots = lots_by_id(burn.site, (each.lot.public_id for each in fuel), as_of=burn.ignited_at)
    place = burn.version.charge.select_related("position").first()
    assert place is not None  # nothing is issued, and so nothing lit, without a charge
    lines = [
        Line(place.position, lot.product, each.used, lot)
        for each in fuel
        for lot in (lots[each.lot.public_id],)
    ]
    return figures_of(burn.site, lines)


def _refuse_end(burn: Burn, ended_at: dt.datetime) -> None:
    """A fire ends after its last event, and before the next one in the unit is lit."""
    last = burn.events.aggregate(last=Max("happened_at"))["last"]
    following = Burn.objects.filter(unit=burn.unit, ignited_at__gt=burn.ignited_at)
    refuse_if(
        last is not None and ended_at + A_MINUTE <= last,
        "ended_at",
        _("The fire cannot be out before the last event that was noted."),
    )
    lit = following.aggregate(first=Min("ignited_at"))["first"]
    refuse_if(
        lit is not None and ended_at > lit,
        "ended_at",
        _("The fire cannot be out after the next one in the unit was lit."),
    )


MUST_HOLD = POST_BURN[:2]  # fire out, everyone counted out


def correct_burn(
    burn: Burn, *, seen_report: int, ended_at: dt.datetime, used: Mapping[str, Decimal], note: str,
    why: str, by: Person, after: After | None = None, meaning: str = CLOSES,
    at: dt.datetime | None = None, once: str = "",
) -> BurnReport:  # fmt: skip
    """Correct a closed burn by a new report that says why, signed anew; the earlier one stays to
    be read. ``after`` is by default what the earlier one says."""
    why = text_within("why", why, 300)
    not_future("ended_at", ended_at, at or timezone.now())
    in_order("ended_at", burn.ignited_at, ended_at)
    with door(
        "burns.burn_corrected", by=by, site=burn.site, on=burn, at=at, why=why, once=once
    ) as entry:
        burn.version.plan.fresh()  # locked before the burn, as returns do
        burn = burn.fresh()
        _refuse_end(burn, ended_at)
        old = burn.current
        if burn.state != BurnState.CLOSED or old is None:
            raise WrongState(_("A burn is corrected after it is closed."))
        if old.number != seen_report:
            raise StaleVersion(
                _(
                    "{name} corrected this record since you opened it; report {number} is newest."
                ).format(name=old.written_by.name, number=old.number)
            )
        entry.changed(
            {
                "ended_at": old.ended_at,
                "used": {fuel.lot.code: fuel.used for fuel in old.fuel.select_related("lot")},
            }
        )
        report = _write_report(
            burn,
            old.number + 1,
            ended_at=ended_at,
            used=used,
            note=note,
            why=why,
            by=by,
            entry=entry,
        )
        burn.save()
        stays = keep_after(
            report, after or carried_over(old, ended_at), countersign=asked_before(old), entry=entry
        )
        refuse_taken_back(old, stays)
        post_use(
            burn.unit, burn=burn.public_id, ignited_at=burn.ignited_at, ended_at=ended_at, burns=0,
            dry_mass_kg=report.dry_mass_kg - old.dry_mass_kg, energy_mj=report.energy_mj - old.energy_mj,
        )  # fmt: skip
        if ended_at != old.ended_at or exposed_of(stays) != exposed_of(old.stays.all()):
            post_stays(burn, stays, report, entry.at)
        sign_report(report, SignaturePart.CLOSE, meaning=meaning, by=by, entry=entry)
    return report


def return_boards(
    plan: Plan, lot: Lot, quantity: Decimal, *, returned_at: dt.datetime, by: Person,
    at: dt.datetime | None = None, once: str = "",
) -> None:  # fmt: skip
    """Take unused boards back; never more than left for this plan and were not burned."""
    not_future("returned_at", returned_at, at or timezone.now())
    counted("quantity", lot.product, quantity)
    with door("burns.boards_returned", by=by, site=plan.site, on=plan, at=at, once=once) as entry:
        plan = plan.fresh()
        refuse_state(plan, "return")
        rows = still_out(plan, burned_by_lot(plan))
        out = next((row.quantity for row in rows if row.lot.pk == lot.pk), Decimal(0))
        refuse_if(
            quantity > out,
            "quantity",
            _("{given} cannot come back: {out} of lot {lot} are out for this plan.").format(
                given=plain_number(quantity), out=plain_number(out), lot=lot
            ),
        )
        move(
            lot, MovementKind.RETURN, quantity, by=by, happened_at=returned_at,
            recorded_at=entry.at, plan=plan.public_id,
        )  # fmt: skip
        entry.changed(lot=lot.code, quantity=quantity)


def _write_report(
    burn: Burn, number: int, *, ended_at: dt.datetime, used: Mapping[str, Decimal], note: str,
    why: str, by: Person, entry: EntryDraft,
) -> BurnReport:  # fmt: skip
    lots = lots_by_id(burn.site, used, as_of=burn.ignited_at)
    refuse_if(set(used) - set(lots), "used", _("No such lot on this ground."))
    _refuse_more_than_issued(burn, lots, used)
    mass, energy = _burned(lots, used)
    report = BurnReport(
        burn=burn, number=number, ended_at=ended_at, why=why, dry_mass_kg=mass, energy_mj=energy,
        note=text_within("note", note, 500, needed=False), written_by=by, written_at=entry.at,
    )  # fmt: skip
    report.save()
    for key, quantity in used.items():
        BurnFuel(report=report, lot=lots[key], used=quantity).save()
    burn.current = report
    entry.changed(
        report=number,
        ended_at=ended_at,
        used={lots[key].code: amount for key, amount in used.items()},
    )
    return report


def _refuse_more_than_issued(
    burn: Burn, lots: Mapping[str, Lot], used: Mapping[str, Decimal]
) -> None:
    out = issued_by_lot(burn.version.plan)
    for key, quantity in used.items():
        lot = lots[key]
        most = out.get(lot.pk, Decimal(0))
        number_between("used", quantity, 0, float(most), lot.product.counted_in or _("boards"))
        refuse_if(
            lot.product.is_board and quantity != quantity.to_integral_value(),
            "used",
            _("Boards are counted whole; {given} was given.").format(given=quantity),
        )
        refuse_finer_than_kept("used", quantity)
    missing = [
        pk for pk, count in out.items() if count and pk not in {lot.pk for lot in lots.values()}
    ]
    refuse_if(missing, "used", _("Say for every issued lot how much of it burned, or 0."))


def _burned(lots: Mapping[str, Lot], used: Mapping[str, Decimal]) -> tuple[Decimal, Decimal]:
    """Dry mass [kg] and energy [MJ] of what burned."""
    mass = energy = 0.0
    for key, quantity in used.items():
        each = figures_for(lots[key].product, lots[key])
        if each is not None:
            mass += float(quantity) * each.dry_mass_kg
            energy += float(quantity) * each.energy_mj
    return Decimal(f"{mass:.2f}"), Decimal(f"{energy:.1f}")
