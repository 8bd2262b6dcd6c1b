"""Use of a unit from before its burns were recorded here, taken over from an older log."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext as _

from facility.people.models import Person
from facility.refusals import number_between, refuse_if, text_within
from facility.sites.models import Unit
from records.audit.door import door
from records.ground.models import UnitUse

MOST_BURNS = 5000  # in one period: more is a slip of the pen, our choice
MOST_KG = 500  # of fuel a burn: more than any unit holds, our choice
ENERGY_MJ_KG = (10, 25)  # of dry wood, widely meant: a figure outside is in another unit


def take_over_use(
    unit: Unit, *, first: dt.date, last: dt.date, burns: int, dry_mass_kg: Decimal,
    energy_mj: Decimal, document: str, by: Person, at: dt.datetime | None = None, once: str = "",
) -> UnitUse:  # fmt: skip
    """Add to a unit's ledger what an older log says of whole days before its first burn here.

    It stands at the end of the last day, so that whatever counts since a day in the period counts
    all of it: rather too much than too little.
    """
    document = text_within("document", document, 120)
    zone = unit.site.zone
    today = (at or timezone.now()).astimezone(zone).date()
    refuse_if(first > last, "last", _("The last day comes before the first."))
    refuse_if(last >= today, "last", _("Only days that are over can be taken over."))
    refuse_if(
        first < unit.commissioned_on,
        "first",
        _("The unit was commissioned on {day}.").format(day=unit.commissioned_on.isoformat()),
    )
    number_between("burns", Decimal(burns), 1, MOST_BURNS)
    number_between("dry_mass_kg", dry_mass_kg, 0, burns * MOST_KG, "kg", above=True)
    low, high = (float(dry_mass_kg) * each for each in ENERGY_MJ_KG)
    number_between("energy_mj", energy_mj, low, high, "MJ")
    end = dt.datetime.combine(last + dt.timedelta(days=1), dt.time(), zone) - dt.timedelta(
        seconds=1
    )
    with door("ground.use_taken_over", by=by, site=unit.site, on=unit, at=at, once=once) as entry:
        _refuse_counted_twice(unit, first, last, end)
        row = UnitUse(
            unit=unit, ignited_at=end, ended_at=end, burns=burns, dry_mass_kg=dry_mass_kg,
            energy_mj=energy_mj, taken_over_from=first, document=document, taken_over_by=by,
            recorded_at=entry.at,
        )  # fmt: skip
        row.save()
        entry.changed(
            first=first, last=last, burns=burns, dry_mass_kg=dry_mass_kg, energy_mj=energy_mj,
            document=document,
        )  # fmt: skip
    return row


def _refuse_counted_twice(unit: Unit, first: dt.date, last: dt.date, end: dt.datetime) -> None:
    unit.fresh()  # locked, so that two who take over the same years take turns
    start = dt.datetime.combine(first, dt.time(), unit.site.zone)
    earlier = UnitUse.objects.filter(unit=unit)
    refuse_if(
        earlier.filter(taken_over_from=None, ignited_at__lte=end).exists(),
        "last",
        _("Burns of these days are recorded here; take over only what lies before them."),
    )
    overlaps = Q(taken_over_from__lte=last, ignited_at__gte=start)
    refuse_if(
        earlier.filter(overlaps).exists(),
        "first",
        _("Some of these days were taken over before."),
    )
