"""Reading what the yard sent: what is doubted, what waits, and what a tablet takes along."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from dataclasses import dataclass, replace
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from facility.sites.models import IN_THE_ROOF, Side, Site, Unit
from facility.yard.chain import Gap, Link
from facility.yard.chain import doubts_of as doubts_of_chain
from facility.yard.clock import CLOCK_DOUBTS
from facility.yard.kinds import KINDS, Kind
from records.burns.models import Burn, BurnState
from records.burns.selectors import burn_here
from records.burns.timeline import names_of_parts, told
from records.yard import entry_figures
from records.yard.models import OFFICE, SetAside, Settled, YardEvent

__all__ = ["OFFICE", "burn_here"]


@dataclass(frozen=True, slots=True)
class Doubt:
    """One thing a person has to answer for before a burn is closed, or did."""

    key: str
    about: str
    words: str
    text: str = ""  # the event itself, where it was set aside
    settled: Settled | None = None
    alike: int = 0  # how many others of its kind are open

    @property
    def kind(self) -> str:
        """What sort of doubt it is, such as a clock that strays; one answer may do for all."""
        return self.key.partition(":")[0]


OTHER_DOUBTS = {
    "before_ignition": gettext_noop("it lies before the ignition"),
    "after_end": gettext_noop("it lies after the fire was out or stopped"),
    "person_off": gettext_noop("the account of whoever recorded it was switched off since"),
}


def events_of(burn: Burn) -> list[YardEvent]:
    """By corrected time, then by device and number, which alone is sure within a device."""
    return list(
        burn.yard_events.select_related("person__details", "caller__details").order_by(
            "happened_at", "device", "device_seq"
        )
    )


def doubts_of(burn: Burn) -> list[Doubt]:
    """Every doubt about what the yard recorded of a burn, settled ones last."""
    found = [*_of_events(burn), *_of_chains(burn), *_set_aside(burn.set_aside.all())]
    return _with_answers(found, burn.settled.all())


def doubts_without_burn(site: Site) -> list[Doubt]:
    """What was set aside and names no burn of this ground."""
    rows = SetAside.objects.filter(site=site, burn__isnull=True)
    return _with_answers(_set_aside(rows), Settled.objects.filter(site=site, burn__isnull=True))


def open_doubts(burn: Burn) -> list[Doubt]:
    return [each for each in doubts_of(burn) if each.settled is None]


def _with_answers(found: list[Doubt], settled: Any) -> list[Doubt]:
    answers = {each.doubt: each for each in settled.select_related("by__details")}
    open_kinds = Counter(each.kind for each in found if each.key not in answers)
    told = [
        replace(each, settled=answers.get(each.key), alike=open_kinds[each.kind] - 1)
        for each in found
    ]
    return sorted(told, key=lambda each: each.settled is not None)


def _of_events(burn: Burn) -> list[Doubt]:
    names = device_names(burn.site)
    return [
        Doubt(f"{code}:{event.event_id}", _about(event, names), _words_of_doubt(code))
        for event in burn.yard_events.exclude(doubts=[]).select_related("person__details")
        for code in event.doubts
    ]


def _words_of_doubt(code: str) -> str:
    known: dict[str, str] = {
        **{str(key): words for key, words in CLOCK_DOUBTS.items()},
        **OTHER_DOUBTS,
    }
    return _(known.get(code, code))


def _about(event: YardEvent, names: dict[str, str]) -> str:
    when = event.happened_at.astimezone(event.burn.site.zone).strftime("%H:%M:%S")
    kind = KINDS.get(event.kind)
    return _("{what}, {when}, {device} no. {number}").format(
        what=_(kind.label) if kind else event.kind, when=when, number=event.device_seq,
        device=names.get(event.device, event.device),
    )  # fmt: skip


def _of_chains(burn: Burn) -> list[Doubt]:
    """Numbers of a device that never came, as far as they lie beside events of this burn.

    A device counts across burns, so a hole is told at the burn of the event after it.
    """
    names, found = device_names(burn.site), []
    for device in sorted(set(burn.yard_events.order_by().values_list("device", flat=True))):
        chain = YardEvent.objects.filter(device=device)
        links = [Link(*row) for row in chain.values_list("device_seq", "sha256", "prev")]
        ours = set(burn.yard_events.filter(device=device).values_list("device_seq", flat=True))
        for doubt in doubts_of_chain(links):
            after = doubt.last + 1 if isinstance(doubt, Gap) else doubt.seq
            if after in ours:
                found.append(_of_chain(device, names.get(device, device), doubt))
    return found


def _of_chain(device: str, name: str, doubt: Any) -> Doubt:
    if not isinstance(doubt, Gap):
        words = _("it names another event before it than the one that came")
        return Doubt(f"broken:{device}:{doubt.seq}", f"{name} no. {doubt.seq}", words)
    about = _("{device} no. {first} to {last}").format(
        device=name, first=doubt.first, last=doubt.last
    )
    if doubt.first == doubt.last:
        about = f"{name} no. {doubt.first}"
    words = _("never came: it is still on the tablet, or its storage was cleared")
    return Doubt(f"gap:{device}:{doubt.first}-{doubt.last}", about, words)


def _set_aside(rows: Any) -> list[Doubt]:
    return [
        Doubt(
            f"aside:{row.public_id}", _("Set aside, {outcome}").format(outcome=row.get_outcome_display()),
            row.reason, row.text,
        )
        for row in rows
    ]  # fmt: skip


def late_of(burn: Burn) -> list[YardEvent]:
    """What came after the close and waits for a signature."""
    return [each for each in events_of(burn) if each.late and not hasattr(each, "amended")]


def device_names(site: Site) -> dict[str, str]:
    return dict(site.devices.values_list("public_id", "name"))


@dataclass(frozen=True, slots=True)
class ReadEvent:
    """An event for a page: who, what, when, how sure."""

    event: YardEvent
    words: str
    device: str

    @property
    def within_s(self) -> float:
        return self.event.within_ms / 1000


def read_events(events: list[YardEvent]) -> list[ReadEvent]:
    if not events:
        return []
    burn = events[0].burn
    names, devices = names_in(burn), device_names(burn.site)
    return [
        ReadEvent(each, _words(each, names), devices.get(each.device, each.device))
        for each in events
    ]


def names_in(burn: Burn) -> dict[str, str]:
    """What an event may name, by public id: parts of the unit, and the people who were there."""
    people = {each["who"]: each["name"] for each in entry_figures.people_of(burn)}
    return people | names_of_parts(burn.unit)


def _words(event: YardEvent, names: dict[str, str]) -> str:
    kind = KINDS.get(event.kind)
    if kind is None:
        return event.kind
    values = [
        told(each, event.value[each.name], names)
        for each in kind.fields
        if each.name in event.value
    ]
    return ", ".join([_(kind.label), *values])


# What a tablet takes along


def kit_for(site: Site, now: dt.datetime) -> dict[str, Any]:
    """Everything the page needs where there is no signal: kinds, running burns, units, names."""
    running = (
        Burn.objects.filter(site=site, state=BurnState.BURNING)
        .select_related("unit")
        .order_by("ignited_at")
    )
    return {
        "ground": site.name,
        "zone": site.time_zone,
        "kinds": [_kind(each) for each in KINDS.values()],
        "burns": [_burn(each) for each in running],
        "made": int(now.timestamp() * 1000),
    }


def _kind(kind: Kind) -> dict[str, Any]:
    return {
        "name": kind.name, "label": _(kind.label), "group": kind.group,
        "fields": [
            {
                "name": each.name, "kept": each.kept, "label": _(each.label), "of": each.of,
                "choices": [[key, _(label)] for key, label in each.choices], "low": each.low,
                "high": each.high, "unit": each.unit, "needed": each.needed,
                "labelled": each.labelled,
            }
            for each in kind.fields
        ],
    }  # fmt: skip


def _burn(burn: Burn) -> dict[str, Any]:
    places = burn.attendance.select_related("person__details").order_by("id")
    people: dict[str, dict[str, Any]] = {}
    for place in places:
        held = people.setdefault(
            place.person.public_id, {"id": place.person.public_id, "name": place.person.name, "duties": []}
        )  # fmt: skip
        held["duties"].append(str(place.get_duty_display()))
    return {
        "id": burn.public_id,
        "unit": _unit(burn.unit),
        "ignited": int(burn.ignited_at.timestamp() * 1000),
        "most_inside": burn.unit.max_people,
        "board": entry_figures.kit_of(burn),
        "people": list(people.values()),
        "events": list(burn.yard_events.order_by("happened_at", "id").values_list("text", flat=True)),
    }  # fmt: skip


def _unit(unit: Unit) -> dict[str, Any]:
    """Lengths in metres, as text."""
    return {
        "name": unit.name, "height": str(unit.height_m), "width": str(unit.width_m),
        "length": str(unit.length_m),
        "openings": [
            {
                "id": each.public_id, "name": each.name, "side": each.side,
                "roof": each.kind in IN_THE_ROOF, "front": each.side == Side.FRONT,
                "width": str(each.width_m), "height": str(each.height_m),
                "sill": str(each.sill_m), "y": str(each.y_m if each.y_m is not None else unit.width_m / 2),
            }
            for each in unit.openings.all()
        ],
        "positions": [{"id": each.public_id, "name": each.name} for each in unit.positions.all()],
    }  # fmt: skip


def last_of(device: str) -> dict[str, Any]:
    """The newest event of a device that came, so that a browser whose storage was cleared goes on
    with another number."""
    row = YardEvent.objects.filter(device=device).order_by("-device_seq").first()
    return {"seq": row.device_seq, "sha256": row.sha256} if row else {"seq": 0, "sha256": ""}
