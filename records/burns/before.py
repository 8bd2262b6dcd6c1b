"""What happens before a burn: items looked at, the briefing, the roll, the weather, and two
signatures that it is fit to burn."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from decimal import Decimal

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from facility.guarded import door_is_open
from facility.kinds import Duty
from facility.people.models import Person
from facility.people.selectors import crew_on
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
from records.burns import readiness
from records.burns.models import (
    Briefed,
    Briefing,
    CheckMark,
    FitSignature,
    Roll,
    RollPlace,
    Weather,
    WindFrom,
)
from records.burns.readiness import SIGNS_FIT, Item
from records.plans.models import Plan, PlanVersion
from records.plans.selectors import newest_version
from records.plans.services import refuse_state

FIT = gettext_noop("seen, and fit to burn")


@contextmanager
def _day_of(
    act: str, plan: Plan, *, by: Person, at: dt.datetime | None, once: str
) -> Iterator[tuple[EntryDraft, PlanVersion]]:
    """The door of an act before a burn, with the approved version, which stays so meanwhile."""
    with door(act, by=by, site=plan.site, on=plan, at=at, once=once) as entry:
        plan = plan.fresh()
        refuse_state(plan, "start")
        version = newest_version(plan)
        entry.changed(version=version.number)
        yield entry, version


# -- the check list ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Look:
    """What somebody saw of one item; not in order needs words."""

    in_order: bool
    note: str = ""


def look_at(
    plan: Plan, looks: Mapping[str, Look], *, seen_at: dt.datetime, by: Person,
    at: dt.datetime | None = None, once: str = "",
) -> list[CheckMark]:  # fmt: skip
    """Record items of the check list, by their code. Several people may look, at several times."""
    not_future("seen_at", seen_at, at or timezone.now())
    refuse_if(not looks, "items", _("No item was looked at."))
    with _day_of("burns.items_checked", plan, by=by, at=at, once=once) as (entry, version):
        items = {each.code: each for each in readiness.items_for(plan.site, version.starts_at)}
        unknown = sorted(set(looks) - set(items))
        refuse_if(
            unknown,
            "items",
            _("No item {code} on the check list.").format(code=unknown and unknown[0]),
        )
        marks = [
            keep_mark(version, items[code], look, by=by, seen_at=seen_at, at=entry.at)
            for code, look in looks.items()
        ]
        entry.changed(items=[[mark.code, mark.in_order, mark.note] for mark in marks])
    return marks


def keep_mark(
    version: PlanVersion, item: Item, look: Look, *, by: Person, seen_at: dt.datetime,
    at: dt.datetime,
) -> CheckMark:  # fmt: skip
    """Keep what was seen of one item. Called behind an open door, here and at ignition."""
    assert door_is_open()
    refuse_if(
        not look.in_order and not look.note.strip(),
        f"note_{item.code}",
        _("{text}: say what is not in order.").format(text=item.text),
    )
    mark = CheckMark(
        version=version, code=item.code, stage=item.stage, text=item.text, in_order=look.in_order,
        note=text_within(f"note_{item.code}", look.note, 200, needed=False), seen_by=by,
        seen_at=seen_at, recorded_at=at,
    )  # fmt: skip
    mark.save()
    return mark


# -- the briefing --------------------------------------------------------------------------------


def hold_briefing(
    plan: Plan, people: Collection[str], *, held_at: dt.datetime, by: Person,
    given_by: Person | None = None, topics: Collection[str] = (), at: dt.datetime | None = None,
    once: str = "",
) -> Briefing:  # fmt: skip
    """Record a briefing: who gave it, who heard it, and which items of it were told.

    ``people`` are public ids out of the crew as it stands; ``topics`` are codes of items of the
    briefing. Whoever comes late is told in another briefing.
    """
    not_future("held_at", held_at, at or timezone.now())
    with _day_of("burns.briefing_held", plan, by=by, at=at, once=once) as (entry, version):
        there = _crew_by_id(version)
        given_by = given_by or by
        leads = {
            place.person.pk
            for place in readiness.places_on_the_day(version)
            if place.duty != Duty.LEARNER
        }
        refuse_if(
            given_by.pk not in leads,
            "given_by",
            _("A briefing is given by somebody of this burn's crew who is no learner."),
        )
        unknown = [key for key in people if key not in there]
        refuse_if(unknown, "people", _("Only people of this burn's crew are briefed here."))
        heard = [there[key] for key in dict.fromkeys(people) if key != given_by.public_id]
        refuse_if(not heard, "people", _("Say who heard the briefing."))
        items = {
            each.code: each
            for each in readiness.items_for(plan.site, version.starts_at)
            if each.stage == "briefing"
        }
        refuse_if(set(topics) - set(items), "topics", _("This is no item of the briefing."))
        briefing = Briefing(
            version=version, given_by=given_by, held_at=held_at, recorded_at=entry.at,
            recorded_by=by,
        )  # fmt: skip
        briefing.save()
        Briefed.objects.bulk_create(Briefed(briefing=briefing, person=each) for each in heard)
        for code in topics:
            keep_mark(version, items[code], Look(True), by=given_by, seen_at=held_at, at=entry.at)
        entry.changed(given_by=given_by, people=heard, items=list(topics))
    return briefing


def _crew_by_id(version: PlanVersion) -> dict[str, Person]:
    places = readiness.places_on_the_day(version)
    return {place.person.public_id: place.person for place in places}


# -- the roll ------------------------------------------------------------------------------------


def call_roll(
    plan: Plan, here: Mapping[tuple[str, str], str], *, by: Person,
    at: dt.datetime | None = None, once: str = "",
) -> Roll:  # fmt: skip
    """Call the roll against the plan, whole. ``here`` maps a place of the plan, its duty and the
    public id of whoever it names, to the public id of whoever fills it; a place left out is empty.

    A learner is there or not: nobody stands in for one. Who may stand in for the others is
    whoever may stand in a crew; the limits are asked of them when the fire is lit.
    """
    with _day_of("burns.roll_called", plan, by=by, at=at, once=once) as (entry, version):
        planned = list(version.crew.select_related("person").order_by("id"))
        known = {(place.duty, place.person.public_id) for place in planned}
        refuse_if(set(here) - known, "here", _("This place is not in the plan."))
        staff = _may_stand_in(plan, version)
        roll = Roll(version=version, called_by=by, called_at=entry.at)
        roll.save()
        filled: set[tuple[str, int]] = set()
        for place in planned:
            key = here.get((place.duty, place.person.public_id), "")
            person = place.person if key == place.person.public_id else staff.get(key)
            _refuse_place(place, key, person, filled)
            RollPlace(roll=roll, duty=place.duty, planned=place.person, person=person).save()
        refuse_if(not filled, "here", _("Nobody is there; then there is no burn."))
        entry.changed(people=[
            [each.duty, each.planned, each.person] for each in roll.places.all()
        ])  # fmt: skip
    return roll


def _may_stand_in(plan: Plan, version: PlanVersion) -> dict[str, Person]:
    day = version.starts_at.astimezone(plan.site.zone).date()
    return {person.public_id: person for person in crew_on(plan.site, day)}


def _refuse_place(
    place: object, key: str, person: Person | None, filled: set[tuple[str, int]]
) -> None:
    duty, planned = str(place.duty), place.person  # type: ignore[attr-defined]
    refuse_if(key and person is None, "here", _("No such person may stand in here."))
    if person is None:
        return
    refuse_if(
        duty == Duty.LEARNER and person != planned,
        "here",
        _("Nobody stands in for a learner; {person} is there or not.").format(person=planned.name),
    )
    refuse_if(
        (duty, person.pk) in filled,
        "here",
        _("{person} would fill the same duty twice.").format(person=person.name),
    )
    filled.add((duty, person.pk))


# -- the weather ---------------------------------------------------------------------------------


def note_weather(
    plan: Plan, *, words: str, read_at: dt.datetime, by: Person, wind_m_s: Decimal | None = None,
    wind_from: str = "", temperature_c: Decimal | None = None, humidity_pct: Decimal | None = None,
    at: dt.datetime | None = None, once: str = "",
) -> Weather:  # fmt: skip
    """Keep the weather as it was read at the unit: words always, figures where there are any."""
    not_future("read_at", read_at, at or timezone.now())
    words = text_within("words", words, 120)
    refuse_if(
        wind_from and wind_from not in WindFrom.values,
        "wind_from",
        _("This direction is not known."),
    )
    if wind_m_s is not None:
        number_between("wind_m_s", wind_m_s, 0, 75, "m/s")
    if temperature_c is not None:
        number_between("temperature_c", temperature_c, -50, 60, "°C")
    if humidity_pct is not None:
        number_between("humidity_pct", humidity_pct, 0, 100, "%")
    for name, value in (("wind_m_s", wind_m_s), ("temperature_c", temperature_c),
                        ("humidity_pct", humidity_pct)):  # fmt: skip
        refuse_if(
            value is not None and value != round(value, 1),
            name,
            _("One decimal is kept; {given} was given.").format(given=value),
        )
    with _day_of("burns.weather_noted", plan, by=by, at=at, once=once) as (entry, version):
        weather = Weather(
            version=version, words=words, wind_m_s=wind_m_s, wind_from=wind_from,
            temperature_c=temperature_c, humidity_pct=humidity_pct, read_at=read_at, read_by=by,
            recorded_at=entry.at,
        )  # fmt: skip
        weather.save()
        entry.changed(
            words=words, wind_m_s=wind_m_s, wind_from=wind_from, temperature_c=temperature_c,
            humidity_pct=humidity_pct,
        )  # fmt: skip
    return weather


# -- fit to burn ---------------------------------------------------------------------------------


def sign_fit(
    plan: Plan, *, shown_hash: str, by: Person, meaning: str = FIT, at: dt.datetime | None = None,
    once: str = "",
) -> FitSignature:  # fmt: skip
    """Sign that what stands now is fit to burn, as instructor in charge or as safety officer.

    Two people sign, each for their own duty on the day. Any later mark, briefing, roll, weather
    or board voids both; then they look again.
    """
    with _day_of("burns.fit_signed", plan, by=by, at=at, once=once) as (entry, version):
        duty = _duty_to_sign(version, by)
        _refuse_unready(version)
        content = readiness.fit_hash(version)
        if shown_hash != content:
            raise StaleVersion(_("Something was recorded since you opened this; read it again."))
        signature = FitSignature(
            version=version, duty=duty, content_hash=content, signed_by=by, signed_at=entry.at,
            meaning=signed(entry, meaning=meaning, content_hash=content),
        )  # fmt: skip
        signature.save()
        entry.changed(duty=duty)
    return signature


def _duty_to_sign(version: PlanVersion, by: Person) -> str:
    """For which of the two duties a person signs: the one they hold, once."""
    mine = [
        place.duty
        for place in readiness.places_on_the_day(version)
        if place.person == by and place.duty in SIGNS_FIT
    ]
    if not mine:
        raise WrongState(
            _("The instructor in charge and the safety officer of this burn sign, nobody else.")
        )
    standing = {each.duty: each for each in readiness.fit_standing(version)}
    for each in standing.values():
        if each.holds and each.signature and each.signature.signed_by_id == by.pk:
            raise OwnWork(
                _("You signed as {duty}; the other signature is another person's.").format(
                    duty=each.duty_name
                )
            )
    free = [duty for duty in mine if not standing[duty].holds]
    if not free:
        raise WrongState(_("This is signed already."))
    return free[0]


def _refuse_unready(version: PlanVersion) -> None:
    """What nobody can sign for: no charge, no roll, or an open item that blocks."""
    if not version.issues.exists():
        raise WrongState(_("No charge was issued for this plan; the store issues it first."))
    if readiness.newest_roll(version) is None:
        raise WrongState(_("The roll was not called yet."))
    still = readiness.open_items(readiness.looked_at(version))
    if still:
        raise WrongState(
            _("Still open: {items}.").format(items="; ".join(each.item.text for each in still))
        )
