"""Reading the log."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from django.db.models import QuerySet
from django.urls import reverse
from django.utils.translation import gettext as _

from facility.guarded import PublicModel
from facility.people.models import Person, PersonDetails
from facility.people.permissions import ACTS, READS, SIGNED, Role
from facility.refusals import NotHere
from facility.sites.models import Site
from records.audit.models import Entry, HeadSent, LogHead, Verification

ACT_CHOICES = [(name, act.label) for name, act in ACTS.items()]


def entries_of(site: Site) -> QuerySet[Entry]:
    """Entries of the ground, newest first, with what people typed."""
    return Entry.objects.filter(site=site.public_id).prefetch_related(
        "disclosed", "erased__erasure", "disposed__disposal"
    )


def entry_here(site: Site, seq: int) -> Entry:
    """An entry of the ground; those of other grounds are not there."""
    entry = Entry.objects.filter(site=site.public_id, pk=seq).first()
    if entry is None:
        raise NotHere(_("There is no entry {seq} of this ground.").format(seq=seq))
    return entry


def lines_for(site: Site, size: int) -> Iterator[str]:
    """The log up to a size, a line for each entry: the bodies of this ground, and of others only
    the leaf hash, so that the whole still gives the root of the head."""
    rows = Entry.objects.filter(seq__lt=size).order_by("seq").values_list("site", "body", "leaf")
    for of, body, leaf in rows.iterator(chunk_size=2000):
        yield body if of == site.public_id else f'{{"leaf":"{bytes(leaf).hex()}"}}'


def last_check() -> Verification | None:
    return Verification.objects.first()


def newest_checks(count: int) -> list[Verification]:
    return list(Verification.objects.all()[:count])


def newest_sent(count: int) -> list[HeadSent]:
    return list(HeadSent.objects.all()[:count])


def restore_waits() -> bool:
    """Whether a restored backup waits to be signed for."""
    return LogHead.objects.filter(restore_unsigned=True).exists()


def made_by_form(once: str, person: Person | None) -> str:
    """What the form with this key made when the same person sent it before; empty otherwise."""
    if person is None:
        return ""
    found = Entry.objects.filter(once=once, actor=person.public_id)
    return found.values_list("obj", flat=True).first() or ""


def receipt_address(act: str, on: PublicModel, person: Person) -> str:
    """The receipt of what the person just signed."""
    rows = Entry.objects.filter(act=act, obj=on.named_in_log, actor=person.public_id)
    newest = rows.values_list("entry_id", flat=True).first()
    return reverse("audit:receipt", args=[newest.hex if newest else ""])


def receipt_here(site: Site, public_id: str, person: Person, roles: frozenset[Role]) -> Entry:
    """The entry of a signature: one's own, or anybody's for those who read the log."""
    rows = entries_of(site).filter(act__in=SIGNED)
    if not roles & READS["log"]:
        rows = rows.filter(actor=person.public_id)
    found: Entry | None = rows.filter(entry_id=public_id).first() if _is_id(public_id) else None
    if found is None:
        raise NotHere(f"No receipt {public_id} on this ground.")
    return found


def signature_on(row: PublicModel) -> Entry | None:
    """The newest entry by which the thing was signed."""
    return Entry.objects.filter(obj=row.named_in_log, act__in=SIGNED).first()


def _is_id(text: str) -> bool:
    return re.fullmatch(r"[0-9a-f]{32}", text) is not None


def log_size() -> int:
    return LogHead.objects.values_list("size", flat=True).first() or 0


def names_of(public_ids: Iterable[str]) -> dict[str, str]:
    """Names behind pseudonymous keys, for a page of the log."""
    rows = PersonDetails.objects.filter(person__public_id__in=set(public_ids))
    return dict(rows.values_list("person__public_id", "name"))


def actors_on(site: Site) -> list[tuple[str, str]]:
    people = Person.objects.filter(roles__site=site).exclude(roles__role="learner").distinct()
    named = people.select_related("details").order_by("details__name")
    return [(person.public_id, person.name) for person in named]
