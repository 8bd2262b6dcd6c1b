"""What becomes of each event that was sent: taken, known already, in conflict, or refused.

Judging writes nothing. A batch is judged with what stands behind it read once, so that 200 events
cost a dozen questions to the database.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from typing import Any
from uuid import UUID

from django.utils.translation import gettext as _

from facility.people.models import Person
from facility.people.permissions import ACTS
from facility.people.selectors import roles_of
from facility.sites.models import ChargePosition, Opening, Site
from facility.yard.clock import Sent, timed
from facility.yard.event import BadEvent, Event, loosely, read_event, sha256_of
from facility.yard.kinds import CORRECTABLE, ENDS, KINDS, OF_THE_FIRE, UNDO, Unit, faults_of
from records.audit.models import Entry
from records.burns.models import Burn, BurnState
from records.yard.models import Seat, YardEvent

NOTING = "burns.events_taken"
MINUTE = dt.timedelta(minutes=1)


class Found(StrEnum):
    STORED = "stored"
    DUPLICATE = "duplicate"
    CONFLICT = "conflict"
    REFUSED = "refused"


@dataclass(slots=True)
class Judged:
    """One event of a batch. ``row`` is what to keep of one that is taken."""

    text: str
    found: Found
    id: str = ""
    reason: str = ""
    burn: Burn | None = None
    row: YardEvent | None = None
    sha256: str = ""


class _Refused(Exception):
    """An event that cannot be taken; it is set aside with this sentence."""


@dataclass
class Batch:
    """What the events of one sending are judged by, read once."""

    site: Site
    at: dt.datetime
    sent: Sent | None
    devices: frozenset[str] | None  # those the sender may speak for; None: of a file, any known
    by: Person
    burns: dict[str, Burn] = field(default_factory=dict)
    people: dict[str, Person] = field(default_factory=dict)
    seats: set[tuple[str, int]] = field(default_factory=set)
    units: dict[int, Unit] = field(default_factory=dict)
    by_id: dict[str, str] = field(default_factory=dict)
    by_seq: dict[tuple[str, int], str] = field(default_factory=dict)
    roles: dict[tuple[int, dt.date], bool] = field(default_factory=dict)
    ends: dict[int, dt.datetime] = field(default_factory=dict)
    off: dict[int, dt.datetime | None] = field(default_factory=dict)

    def judge(self, texts: Sequence[Any]) -> list[Judged]:
        read = [_read(text) for text in texts]
        self._look_up([each for each in read if isinstance(each, Event)])
        return [
            self._judged(each) if isinstance(each, Event) else self._unread(text, each)
            for text, each in zip(texts, read, strict=True)
        ]

    def _look_up(self, events: Sequence[Event]) -> None:
        burns = Burn.objects.filter(site=self.site, public_id__in={each.burn for each in events})
        self.burns = {burn.public_id: burn for burn in burns.select_related("unit", "current")}
        named = {each.person for each in events} | {each.caller for each in events}
        people = Person.objects.filter(roles__site=self.site, public_id__in=named).distinct()
        self.people = {each.public_id: each for each in people.select_related("details")}
        devices = {each.device for each in events}
        seats = Seat.objects.filter(site=self.site, device__in=devices)
        self.seats = set(seats.values_list("device", "person"))
        self.units = {burn.unit_id: unit_of(burn) for burn in self.burns.values()}
        self._look_up_stored(events)
        ended = YardEvent.objects.filter(burn__in=self.burns.values(), kind__in=ENDS)
        for burn, when in ended.values_list("burn", "happened_at"):
            self.ends[burn] = min(when, self.ends.get(burn, when))

    def _look_up_stored(self, events: Sequence[Event]) -> None:
        stored = YardEvent.objects.values_list("event_id", "device", "device_seq", "sha256")
        rows = list(stored.filter(event_id__in=[each.id for each in events]))
        for device in {each.device for each in events}:
            numbers = [each.device_seq for each in events if each.device == device]
            rows += stored.filter(device=device, device_seq__in=numbers)
        for event_id, device, seq, sha256 in rows:
            self._know(str(event_id), device, seq, sha256)

    def _know(self, event_id: str, device: str, seq: int, sha256: str) -> None:
        self.by_id[event_id] = sha256
        self.by_seq[device, seq] = event_id

    def _unread(self, text: Any, bad: BadEvent) -> Judged:
        """What was no event; the burn it names, if it names one, is where it will be looked for."""
        text = text if isinstance(text, str) else repr(text)
        told = loosely(text)
        named = told.get("burn")
        rows = Burn.objects.filter(site=self.site, public_id=named) if isinstance(named, str) and "\x00" not in named else Burn.objects.none()  # fmt: skip
        reason = _(bad.sentence).format(**bad.given)
        return Judged(text, Found.REFUSED, str(told.get("id", ""))[:36], reason, rows.first())

    def _judged(self, event: Event) -> Judged:
        burn = self.burns.get(event.burn)
        judged = Judged(event.text, Found.STORED, event.id, burn=burn, sha256=event.sha256)
        known = self.by_id.get(event.id)
        if known is not None:
            judged.found = Found.DUPLICATE if known == judged.sha256 else Found.CONFLICT
            if judged.found is Found.CONFLICT:
                judged.reason = _("Another event of this name was taken before.")
            return judged
        if (event.device, event.device_seq) in self.by_seq:
            judged.found = Found.CONFLICT
            judged.reason = _("Event {number} of this device was another one.").format(
                number=event.device_seq
            )
            return judged
        try:
            judged.row = self._row(event)
        except _Refused as refused:
            judged.found, judged.reason = Found.REFUSED, str(refused)
            return judged
        self._know(event.id, event.device, event.device_seq, judged.sha256)
        return judged

    def _row(self, event: Event) -> YardEvent:
        if self.devices is not None and event.device not in self.devices:
            raise _Refused(_("It is an event of another device."))
        burn = self.burns.get(event.burn)
        if burn is None:
            raise _Refused(_("There is no such burn on this ground."))
        when = timed(event.reading, event.anchor, self.sent)
        happened_at = dt.datetime.fromtimestamp(when.at / 1000, dt.UTC)
        person = self._person(event, happened_at)
        caller = self._caller(event)
        self._refuse_value(event, burn)
        doubts = [
            *when.doubts, *self._doubts_of_burn(event, burn, happened_at, when.within_ms),
            *self._doubts_of_person(person),
        ]  # fmt: skip
        return YardEvent(
            event_id=UUID(event.id), device=event.device, device_seq=event.device_seq, burn=burn,
            kind=event.kind, value=event.value, text=event.text, sha256=event.sha256,
            prev=event.prev, person=person, caller=caller,
            corrects=UUID(event.corrects) if event.corrects else None, happened_at=happened_at,
            within_ms=when.within_ms, doubts=[str(each) for each in doubts],
            late=burn.state != BurnState.BURNING, received_at=self.at, received_by=self.by,
        )  # fmt: skip

    def _person(self, event: Event, happened_at: dt.datetime) -> Person:
        """Whoever recorded it: known, seated at that device, with the role on that day."""
        person = self.people.get(event.person)
        if person is None:
            raise _Refused(_("Whoever recorded it is not known on this ground."))
        if (event.device, person.pk) not in self.seats:
            raise _Refused(_("Whoever recorded it never signed in at this device."))
        day = happened_at.astimezone(self.site.zone).date()
        if (person.pk, day) not in self.roles:
            held = roles_of(person, self.site, day) & ACTS[NOTING].roles
            self.roles[person.pk, day] = bool(held)
        if not self.roles[person.pk, day]:
            raise _Refused(
                _("Whoever recorded it did not hold the role of instructor on that day.")
            )
        off = self._off_since(person)
        if off is not None and happened_at > off:
            raise _Refused(_("The account of whoever recorded it was switched off before."))
        return person

    def _off_since(self, person: Person) -> dt.datetime | None:
        """When an account that is off was switched off."""
        if person.is_active:
            return None
        if person.pk not in self.off:
            ends = Entry.objects.filter(act="ground.person_disabled", obj=person.named_in_log)
            self.off[person.pk] = ends.order_by("-seq").values_list("at", flat=True).first()
        return self.off[person.pk]

    def _caller(self, event: Event) -> Person | None:
        if not event.caller:
            return None
        caller = self.people.get(event.caller)
        if caller is None:
            raise _Refused(_("Whoever called it is not known on this ground."))
        return caller

    def _refuse_value(self, event: Event, burn: Burn) -> None:
        strikes = event.kind == UNDO
        if strikes != bool(event.corrects) and not (event.corrects and event.kind in CORRECTABLE):
            raise _Refused(_("What strikes out names what it strikes out, and only that."))
        if event.corrects == event.id:
            raise _Refused(_("An event cannot strike out itself."))
        for fault in faults_of(event.kind, event.value, self.units[burn.unit_id]):
            known = KINDS.get(event.kind)
            asked = known.field(fault.field) if known else None
            words = _(asked.label) if asked else fault.field
            raise _Refused(_(fault.sentence).format(**{**fault.given, "field": words}))

    def _doubts_of_burn(
        self, event: Event, burn: Burn, happened_at: dt.datetime, within_ms: int
    ) -> list[str]:
        within = dt.timedelta(milliseconds=within_ms)
        found = []
        if happened_at + within + MINUTE < burn.ignited_at and event.kind in OF_THE_FIRE:
            found.append("before_ignition")
        ended = self.ends.get(burn.pk)
        after = ended is not None and happened_at - within > ended
        if after and event.kind in OF_THE_FIRE:
            found.append("after_end")
        if event.kind in ENDS:
            self.ends[burn.pk] = min(happened_at, ended or happened_at)
        return found

    def _doubts_of_person(self, person: Person) -> list[str]:
        return [] if person.is_active else ["person_off"]


def _read(text: Any) -> Event | BadEvent:
    try:
        return read_event(text)
    except BadEvent as bad:
        return bad


def unit_of(burn: Burn) -> Unit:
    """What of the unit an event of this burn may speak of; parts taken out since count as well."""
    openings = Opening._base_manager.filter(unit=burn.unit_id)
    positions = ChargePosition._base_manager.filter(unit=burn.unit_id)
    return Unit(
        Decimal(burn.unit.height_m), frozenset(openings.values_list("public_id", flat=True)),
        frozenset(positions.values_list("public_id", flat=True)),
    )  # fmt: skip


def hash_of(judged: Judged) -> str:
    """The SHA-256 of what was sent, also where it was no event."""
    return judged.sha256 or sha256_of(judged.text.encode("utf-8", "replace").decode())
