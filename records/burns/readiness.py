"""Reading what stands before a burn: the check list, the briefing, the roll, the weather, and who
signed that it is fit. Nothing here writes."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from facility.calc.weather import wind_force
from facility.kinds import Duty
from facility.people.models import Person
from facility.refusals import plain_number
from facility.rulebook.models import CheckStage
from facility.rulebook.selectors import items_in_force
from facility.rules.facts import Known
from facility.sites.models import Site
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
from records.inspections.checklists import PRE_BURN
from records.plans.content import Place
from records.plans.models import PlanVersion
from records.plans.selectors import net_issues

SIGNS_FIT = (Duty.IN_CHARGE, Duty.SAFETY)  # one of each, two people


@dataclass(frozen=True, slots=True)
class Item:
    """One thing to look at before ignition; ``clause`` is empty for those of the fixed list."""

    code: str
    stage: str
    text: str
    blocks: bool = True
    clause: str = ""

    @property
    def stage_name(self) -> str:
        return str(CheckStage(self.stage).label)


@dataclass(frozen=True, slots=True)
class Looked:
    """An item and its newest mark."""

    item: Item
    mark: CheckMark | None

    @property
    def is_open(self) -> bool:
        return self.mark is None or not self.mark.in_order

    @property
    def stops(self) -> bool:
        """Whether no fire may be lit while it is so."""
        return self.is_open and self.item.blocks

    @property
    def word(self) -> str:
        if self.mark is None:
            return "not_looked"
        return "in_order" if self.mark.in_order else "not_in_order"


def items_for(site: Site, moment: dt.datetime) -> list[Item]:
    """What the editions in force that day ask to be looked at; else the fixed list."""
    asked = items_in_force(site, moment.astimezone(site.zone).date())
    if not asked:
        return [
            Item(f"B-{place}", CheckStage.PRE_IGNITION, str(text))
            for place, text in enumerate(PRE_BURN, start=1)
        ]
    return [
        Item(each.code, each.stage, each.text, each.blocks, f"{each.edition.code}, {each.clause}")
        for each in asked
    ]


def looked_at(version: PlanVersion) -> list[Looked]:
    """The check list of a burn as it stands. A mark counts for the words it was made under."""
    newest = {mark.text: mark for mark in version.marks.select_related("seen_by__details")}
    items = items_for(version.plan.site, version.starts_at)
    return [Looked(item, newest.get(item.text)) for item in items]


def open_items(looked: Sequence[Looked]) -> list[Looked]:
    return [each for each in looked if each.stops]


def newest_roll(version: PlanVersion) -> Roll | None:
    rolls = Roll.objects.filter(version=version).select_related("called_by__details")
    places = "places__person__details", "places__planned__details"
    return rolls.prefetch_related(*places).order_by("-id").first()


def places_of(version: PlanVersion, roll: Roll | None) -> list[Place]:
    """The crew as the roll found it; as planned while none was called."""
    if roll is None:
        planned = version.crew.select_related("person__details").order_by("id")
        return [Place(each.person, each.duty) for each in planned]
    return [Place(each.person, each.duty) for each in roll.places.all() if each.person is not None]


def places_on_the_day(version: PlanVersion) -> list[Place]:
    return places_of(version, newest_roll(version))


def stand_ins(roll: Roll | None) -> list[RollPlace]:
    """The places of the plan that somebody else fills, or nobody."""
    places = list(roll.places.all()) if roll else []
    return [each for each in places if each.person_id is None or each.stands_in]


def briefings_of(version: PlanVersion) -> list[Briefing]:
    rows = Briefing.objects.filter(version=version).select_related("given_by__details")
    return list(rows.prefetch_related("people__person__details"))


def briefed(version: PlanVersion) -> set[int]:
    """The keys of everyone who was at a briefing for this burn, or gave one."""
    heard = Briefed.objects.filter(briefing__version=version).values_list("person", flat=True)
    gave = Briefing.objects.filter(version=version).values_list("given_by", flat=True)
    return {*heard, *gave}


def not_briefed(version: PlanVersion, people: Collection[Person]) -> list[Person]:
    """Of these people, each once, those who missed every briefing."""
    told = briefed(version)
    return [each for each in dict.fromkeys(people) if each.pk not in told]


def newest_weather(version: PlanVersion) -> Weather | None:
    rows = Weather.objects.filter(version=version).select_related("read_by__details")
    return rows.order_by("-id").first()


def force_of(weather: Weather) -> int | None:
    """The wind's force on the Beaufort scale."""
    if weather.wind_m_s is None:
        return None
    return int(wind_force.of(wind_speed=float(weather.wind_m_s)).value())


def weather_facts(weather: Weather | None) -> dict[str, Known]:
    """What was read at the unit, as facts; it stands before what the plan stated beforehand."""
    if weather is None:
        return {}
    force = force_of(weather)
    read = {
        "site.wind_force": None if force is None else float(force),
        "site.air_temperature": _float(weather.temperature_c),
        "site.humidity": _float(weather.humidity_pct),
    }
    return {fact: Known(value) for fact, value in read.items() if value is not None}


def _float(value: object) -> float | None:
    return None if value is None else float(str(value))


# -- fit to burn ---------------------------------------------------------------------------------


def fit_hash(version: PlanVersion) -> str:
    """SHA-256 over everything that "fit to burn" speaks of: the plan, the charge that is out,
    every mark that counts, the briefings, the roll and the weather."""
    roll, weather = newest_roll(version), newest_weather(version)
    written = [
        version.plan.public_id,
        version.content_hash,
        [[issue.lot.code, issue.line.position.public_id, str(left)]
         for issue, left in net_issues(version)],
        [_of_mark(each) for each in looked_at(version)],
        [[each.given_by.public_id, _utc(each.held_at),
          sorted(heard.person.public_id for heard in each.people.all())]
         for each in briefings_of(version)],
        [[each.duty, each.planned.public_id, each.person.public_id if each.person else ""]
         for each in (list(roll.places.all()) if roll else [])],
        _of_weather(weather),
    ]  # fmt: skip
    text = json.dumps(written, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def _of_mark(looked: Looked) -> list[object]:
    item, mark = looked.item, looked.mark
    said = [mark.in_order, mark.note, mark.seen_by.public_id, _utc(mark.seen_at)] if mark else []
    return [item.code, item.stage, item.text, item.blocks, *said]


def _of_weather(weather: Weather | None) -> list[str]:
    if weather is None:
        return []
    read = (weather.wind_m_s, weather.temperature_c, weather.humidity_pct)
    figures = ["" if each is None else plain_number(each) for each in read]
    return [weather.words, weather.wind_from, *figures, _utc(weather.read_at)]


def _utc(moment: dt.datetime) -> str:
    return moment.astimezone(dt.UTC).isoformat()


@dataclass(frozen=True, slots=True)
class FitStanding:
    """One of the two signatures: given for what stands now, given for something else, or not."""

    duty: str
    signature: FitSignature | None
    holds: bool

    @property
    def duty_name(self) -> str:
        return str(Duty(self.duty).label)

    @property
    def word(self) -> str:
        return "fit_signed" if self.holds else "fit_void" if self.signature else "fit_unsigned"


def fit_standing(version: PlanVersion) -> list[FitStanding]:
    now = fit_hash(version)
    rows = FitSignature.objects.filter(version=version).select_related("signed_by__details")
    newest = {row.duty: row for row in rows.order_by("id")}
    return [
        FitStanding(duty, found, found is not None and found.content_hash == now)
        for duty in SIGNS_FIT
        for found in (newest.get(duty),)
    ]


def fit_known(version: PlanVersion) -> Known:
    """Whether both signed what stands now; two people, for nobody signs twice."""
    standing = fit_standing(version)
    for each in standing:
        if not each.holds:
            reason = (
                _("what the {duty} signed was changed afterwards")
                if each.signature
                else _("the {duty} has not signed")
            )
            return Known(False, reason.format(duty=each.duty_name))
    people = {each.signature.signed_by_id for each in standing if each.signature}
    return Known(len(people) == len(SIGNS_FIT), _("one person signed for both"))


@dataclass(frozen=True, slots=True)
class Before:
    """Everything the page before a burn shows."""

    version: PlanVersion
    looked: list[Looked]
    roll: Roll | None
    places: list[Place]
    away: list[RollPlace]
    briefings: list[Briefing]
    missed: list[Person]
    weather: Weather | None
    force: int | None
    fit: list[FitStanding]

    @property
    def open(self) -> list[Looked]:
        return open_items(self.looked)

    @property
    def stages(self) -> list[tuple[str, str, list[Looked]]]:
        """The items stage by stage, in the order of the day."""
        told = [
            (stage, str(stage.label), [each for each in self.looked if each.item.stage == stage])
            for stage in CheckStage
        ]
        return [each for each in told if each[2]]

    @property
    def recorded(self) -> bool:
        """Whether anything of the day was recorded here; burns from before that have nothing."""
        return bool(self.roll or self.briefings or any(each.mark for each in self.looked))

    @property
    def signed(self) -> bool:
        return all(each.holds for each in self.fit)


def before(version: PlanVersion) -> Before:
    roll, weather = newest_roll(version), newest_weather(version)
    places = places_of(version, roll)
    return Before(
        version=version,
        looked=looked_at(version),
        roll=roll,
        places=places,
        away=stand_ins(roll),
        briefings=briefings_of(version),
        missed=not_briefed(version, [place.person for place in places]),
        weather=weather,
        force=force_of(weather) if weather else None,
        fit=fit_standing(version),
    )


# What forms offer; they import no models.
WINDS = WindFrom.choices
