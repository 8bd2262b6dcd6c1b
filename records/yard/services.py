"""What the yard records: events are taken in, doubts settled, late events signed.

A batch is whole or not at all: one transaction, one entry, which names the hash of every event,
so that the log stands for the very texts that were sent.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _

from facility.people.models import Device, Person
from facility.refusals import (
    AlreadyDone,
    Collided,
    NotAllowed,
    NotHere,
    StaleVersion,
    TooLarge,
    WrongState,
    WrongValue,
    text_within,
)
from facility.sites.models import Site
from facility.yard.air_board import KINDS as BOARD_KINDS
from facility.yard.clock import Sent
from facility.yard.event import spelt
from records.audit.door import door
from records.audit.signing import signed
from records.burns.feeding import Seen, feed_timeline_behind_door
from records.burns.models import Burn, BurnState
from records.yard import selectors
from records.yard.judging import Batch, Found, Judged, hash_of
from records.yard.models import OFFICE, Amended, Outcome, Seat, SetAside, Settled, YardEvent

MOST_AT_ONCE = 200
LONGEST_KEPT = 8000  # characters of a text that was refused; a longer one is kept by its beginning


def take_seat(site: Site, device: str, *, by: Person, at: dt.datetime | None = None) -> None:
    """Remember that the person is signed in at the device; a second time writes nothing."""
    device = text_within("device", device, 40)
    if Seat.objects.filter(site=site, device=device, person=by).exists():
        return
    with door("burns.seat_taken", by=by, site=site, at=at) as entry:
        Seat(site=site, device=device, person=by, since=entry.at).save()
        entry.changed(code=device)


def speaks_for(site: Site, device: str, tablet: Device | None) -> None:
    """Refuse whoever sends for a device that this browser is not."""
    if tablet is not None and tablet.site_id == site.pk and device == tablet.public_id:
        return
    own = device.startswith(OFFICE) and "\x00" not in device
    if own and Seat.objects.filter(site=site, device=device).exists():
        return
    raise NotAllowed(_("This browser is not the device that these events are of."), field="device")


def take_events(
    site: Site, texts: Sequence[Any], *, by: Person, sent: Sent | None = None, device: str = "",
    at: dt.datetime | None = None, once: str = "",
) -> list[Judged]:  # fmt: skip
    """Take the events of one device, each as it was spelt; say of each what became of it.

    Events known already write nothing, so that a batch may come any number of times. What
    conflicts or is refused is set aside. ``device`` is empty for a rescue file.

    Raises
    ------
    NotAllowed
        when the sender may not note events.
    TooLarge
        for more than 200.
    """
    if len(texts) > MOST_AT_ONCE:
        raise TooLarge(
            _("{given} events were sent at once; at most {most} are taken.").format(
                given=len(texts), most=MOST_AT_ONCE
            ),
            field="events",
        )
    at = at or timezone.now()
    for _try in range(5):
        batch = Batch(site, at, sent, frozenset({device}) if device else None, by)
        judged = batch.judge(texts)
        new = [each for each in judged if not _kept_before(site, each)]
        if not new:
            return judged
        try:
            return _keep(site, judged, new, device, by=by, at=at, once=once)
        except (AlreadyDone, Collided):
            if once:
                raise
            continue  # the same events came by another way meanwhile; judged again, they are known
    raise Collided(_("Too many are sending the same events at once; try again."))


def _kept_before(site: Site, judged: Judged) -> bool:
    if judged.found in (Found.STORED, Found.DUPLICATE):
        return judged.found is Found.DUPLICATE
    return SetAside.objects.filter(site=site, sha256=hash_of(judged)).exists()


def _keep(
    site: Site, judged: list[Judged], new: list[Judged], device: str, *, by: Person,
    at: dt.datetime, once: str,
) -> list[Judged]:  # fmt: skip
    burns = {each.burn for each in new}
    hashes = [hash_of(each) for each in new]
    once = once or "yard-" + hashlib.sha256("".join(sorted(hashes)).encode()).hexdigest()[:32]
    with door(
        "burns.events_taken", by=by, site=site, at=at, once=once,
        on=(burns.pop() if len(burns) == 1 else None) or site,
    ) as entry:  # fmt: skip
        rows = [each.row for each in new if each.row is not None]
        _refuse_if_closed_meanwhile(rows)
        YardEvent.objects.bulk_create(rows)
        in_time = [row for row in rows if not row.late]
        feed_timeline_behind_door(map(_seen, _for_the_timeline(in_time)), at=entry.at)
        aside = _aside(site, new, device, by=by, at=entry.at)
        SetAside.objects.bulk_create(aside)
        entry.changed(
            code=device or "rescue file",
            events=[[row.sha256, str(row.event_id)] for row in rows],
            set_aside=[[row.sha256, str(row.outcome)] for row in aside],
        )
    return judged


def _refuse_if_closed_meanwhile(rows: Sequence[YardEvent]) -> None:
    """Whether a burn runs was read before the transaction; events that came late are signed."""
    running = {row.burn_id for row in rows if not row.late}
    locked = Burn.objects.select_for_update(no_key=True).filter(pk__in=running).order_by("pk")
    if any(burn.state != BurnState.BURNING for burn in locked):
        raise Collided(_("The burn was closed just now."))


def _for_the_timeline(rows: Sequence[YardEvent]) -> list[YardEvent]:
    """Without what strikes out an event of the entry board, which is no part of the timeline."""
    named = {row.corrects for row in rows if row.corrects is not None}
    if not named:
        return list(rows)
    of_board = YardEvent.objects.filter(event_id__in=named, kind__in=BOARD_KINDS)
    struck = set(of_board.values_list("event_id", flat=True))
    return [row for row in rows if row.corrects not in struck]


def _seen(row: YardEvent) -> Seen:
    return Seen(
        burn=row.burn, kind=row.kind, value=row.value, happened_at=row.happened_at,
        within_ms=row.within_ms, noted_by=row.person, caller=row.caller,
        source=str(row.event_id), corrects=str(row.corrects or ""),
    )  # fmt: skip


def _aside(
    site: Site, new: Sequence[Judged], device: str, *, by: Person, at: dt.datetime
) -> list[SetAside]:
    """Each text once, though it may have been sent twice in one batch."""
    found = {hash_of(each): each for each in new if each.row is None and each.found != "duplicate"}
    return [
        SetAside(
            site=site, burn=each.burn, device=device, sha256=sha256, reason=each.reason[:200],
            text=each.text[:LONGEST_KEPT].replace("\x00", "\ufffd").encode("utf-8", "replace").decode(),
            outcome=Outcome(each.found), received_at=at, received_by=by,
        )
        for sha256, each in found.items()
    ]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Rescued:
    """What became of the lines of a rescue file."""

    stored: int
    duplicate: int
    conflict: int
    refused: int


MOST_LINES, MOST_BYTES = 20_000, 8 * 1024 * 1024


def take_rescue_file(
    site: Site, data: bytes, *, by: Person, at: dt.datetime | None = None, once: str = ""
) -> Rescued:
    """Take a file that a tablet wrote: an event a line, by the same way as what is sent.

    A long file is taken in batches, each whole; ``once`` is the key of the form, for the first.
    """
    lines = _lines(data)
    judged: list[Judged] = []
    for start in range(0, len(lines), MOST_AT_ONCE):
        part = lines[start : start + MOST_AT_ONCE]
        judged += take_events(site, part, by=by, at=at, once="" if start else once)
    return Rescued(**{found.value: sum(each.found is found for each in judged) for found in Found})


def _lines(data: bytes) -> list[str]:
    if len(data) > MOST_BYTES:
        raise TooLarge(_("A rescue file of more than 8 MB is not taken."), field="file")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise WrongValue(
            _("This is no rescue file: it is not text in UTF-8."), field="file"
        ) from None
    lines = [line for line in text.replace("\r\n", "\n").split("\n") if line.strip()]
    if not lines or not all(line.startswith("{") for line in lines):
        raise WrongValue(
            _("This is no rescue file: each of its lines is an event of a tablet."), field="file"
        )
    if len(lines) > MOST_LINES:
        raise TooLarge(
            _("{given} events stand in the file; at most {most} are taken.").format(
                given=len(lines), most=MOST_LINES
            ),
            field="file",
        )
    return lines


def settle_doubt(
    burn: Burn | None, key: str, *, site: Site, reason: str, by: Person, alike: bool = False,
    at: dt.datetime | None = None, once: str = "",
) -> int:  # fmt: skip
    """Answer for one doubt with a reason, or for all open ones of its kind; gives how many.

    They stay to be read. A tablet whose clock strays puts every event of it in doubt.
    """
    reason = text_within("reason", reason, 300)
    with door(
        "burns.doubt_settled", by=by, site=site, on=burn or site, at=at, why=reason, once=once
    ) as entry:
        doubts = selectors.doubts_of(burn) if burn else selectors.doubts_without_burn(site)
        doubt = next((each for each in doubts if each.key == key), None)
        if doubt is None:
            raise NotHere(f"No doubt {key} here.")
        if doubt.settled:
            raise WrongState(_("This was settled before."))
        found = [doubt]
        if alike:
            found = [each for each in doubts if each.kind == doubt.kind and not each.settled]
        for each in found:
            Settled(site=site, burn=burn, doubt=each.key, reason=reason, by=by, at=entry.at).save()
        entry.changed(code=" ".join(each.key for each in found))
    return len(found)


def late_hash(burn: Burn) -> str:
    """What a signature under the late events of a burn stands for."""
    waiting = selectors.late_of(burn)
    return hashlib.sha256(spelt([each.sha256 for each in waiting]).encode()).hexdigest()


def sign_late_events(
    burn: Burn, *, reason: str, meaning: str, shown_hash: str, by: Person,
    at: dt.datetime | None = None, once: str = "",
) -> int:  # fmt: skip
    """Sign what came after the burn was closed into its record. Gives how many events."""
    reason = text_within("reason", reason, 300)
    with door(
        "burns.late_events_signed", by=by, site=burn.site, on=burn, at=at, why=reason, once=once
    ) as entry:
        burn = burn.fresh()
        waiting = selectors.late_of(burn)
        if not waiting:
            raise WrongState(_("No events of this burn wait to be signed."))
        if late_hash(burn) != shown_hash:
            raise StaleVersion(_("More events came since you opened the page; read them first."))
        if not burn.attendance.filter(person=by).exists():
            raise WrongState(_("Only someone who was at the burn signs its events."))
        meaning = signed(entry, meaning=meaning, content_hash=shown_hash)
        Amended.objects.bulk_create(
            [Amended(event=each, by=by, meaning=meaning, at=entry.at) for each in waiting]
        )
        feed_timeline_behind_door(map(_seen, _for_the_timeline(waiting)), at=entry.at)
        entry.changed(events=[[each.sha256, str(each.event_id)] for each in waiting])
    return len(waiting)
