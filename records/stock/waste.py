"""Ash and waste of the burns: weighed, named by container and destination, and signed off."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from facility.people.models import Person
from facility.refusals import (
    NotHere,
    OwnWork,
    StaleVersion,
    WrongState,
    not_future,
    number_between,
    refuse_if,
    text_within,
)
from facility.sites.models import Site
from records.audit.door import door
from records.audit.signing import signed
from records.stock.models import WasteDocket, WasteKind, WasteSignOff

SIGNS_OFF = gettext_noop("cold, weighed and gone to the place on the docket")


@dataclass(frozen=True, slots=True)
class Waste:
    """A container as it was weighed. ``unburnt_kg`` is the part of it that is unburnt wood."""

    kind: str
    docket: str
    container: str
    destination: str
    mass_kg: Decimal
    cooled_since: dt.datetime
    weighed_at: dt.datetime
    untreated: bool
    unburnt_kg: Decimal = Decimal(0)


def record_waste(
    site: Site, waste: Waste, *, by: Person, at: dt.datetime | None = None, once: str = ""
) -> WasteDocket:
    """Record a weighed container with its docket. Treated or contaminated wood is refused: it goes
    another way, as hazardous waste with a transfer note."""
    refuse_if(waste.kind not in WasteKind.values, "kind", _("This kind of waste is not known."))
    refuse_if(
        not waste.untreated,
        "untreated",
        _(
            "Treated or contaminated waste gets no ash docket: keep it apart, and hand it over as "
            "hazardous waste with a transfer note."
        ),
    )
    now = at or timezone.now()
    not_future("weighed_at", waste.weighed_at, now)
    not_future("cooled_since", waste.cooled_since, now)
    refuse_if(
        waste.cooled_since > waste.weighed_at,
        "cooled_since",
        _("It was weighed before it had cooled; hot ash stays where it is."),
    )
    number_between("mass_kg", waste.mass_kg, 0, 20_000, "kg", above=True)
    for name, mass in (("mass_kg", waste.mass_kg), ("unburnt_kg", waste.unburnt_kg)):
        refuse_if(
            mass != round(mass, 1),
            name,
            _("One decimal is kept; {given} was given.").format(given=mass),
        )
    number_between("unburnt_kg", waste.unburnt_kg, 0, float(waste.mass_kg), "kg")
    docket = text_within("docket", waste.docket, 40)
    row = WasteDocket(
        site=site, kind=waste.kind, docket=docket,
        container=text_within("container", waste.container, 80),
        destination=text_within("destination", waste.destination, 120), mass_kg=waste.mass_kg,
        unburnt_kg=waste.unburnt_kg, untreated=True, cooled_since=waste.cooled_since,
        weighed_at=waste.weighed_at, weighed_by=by,
    )  # fmt: skip
    with door("stock.waste_recorded", by=by, site=site, on=row, at=at, once=once) as entry:
        refuse_if(
            WasteDocket.objects.filter(site=site, docket__iexact=docket).exists(),
            "docket",
            _("Waste docket {docket} was recorded before.").format(docket=docket),
        )
        row.recorded_at = entry.at
        row.save()
        entry.changed(
            kind=WasteKind(waste.kind), docket=docket, mass_kg=waste.mass_kg,
            destination=row.destination,
        )  # fmt: skip
    return row


def waste_hash(row: WasteDocket) -> str:
    """SHA-256 over what is signed off, written one way only."""
    written = [
        row.public_id, str(row.kind), row.docket, row.container, row.destination,
        f"{row.mass_kg:.1f}", f"{row.unburnt_kg:.1f}",
        row.cooled_since.astimezone(dt.UTC).isoformat(),
        row.weighed_at.astimezone(dt.UTC).isoformat(),
    ]  # fmt: skip
    return hashlib.sha256(json.dumps(written, separators=(",", ":")).encode()).hexdigest()


def sign_off_waste(
    row: WasteDocket, *, shown_hash: str, by: Person, meaning: str = SIGNS_OFF,
    at: dt.datetime | None = None, once: str = "",
) -> WasteSignOff:  # fmt: skip
    """Sign a container off; never by whoever weighed it."""
    with door("stock.waste_signed_off", by=by, site=row.site, on=row, at=at, once=once) as entry:
        if WasteSignOff.objects.filter(waste=row).exists():
            raise WrongState(_("Waste docket {docket} is signed off.").format(docket=row.docket))
        if by.pk == row.weighed_by_id:
            raise OwnWork(_("You weighed this; someone else signs it off."))
        content = waste_hash(row)
        if shown_hash != content:
            raise StaleVersion(_("This is not the docket that was shown; read it again."))
        sign_off = WasteSignOff(
            waste=row, meaning=signed(entry, meaning=meaning, content_hash=content), signed_by=by,
            signed_at=entry.at,
        )  # fmt: skip
        sign_off.save()
    return sign_off


def waste_of(site: Site) -> QuerySet[WasteDocket]:
    return WasteDocket.objects.filter(site=site).select_related(
        "weighed_by__details", "sign_off__signed_by__details"
    )


def waste_here(site: Site, public_id: str) -> WasteDocket:
    row = waste_of(site).select_related("site").filter(public_id=public_id).first()
    if row is None:
        raise NotHere(f"No waste docket {public_id} on this ground.")
    return row


# What forms offer; they import no models.
WASTE_KINDS = WasteKind.choices
