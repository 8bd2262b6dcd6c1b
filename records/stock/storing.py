"""What happens to a bay of the store: its air is logged, by hand or from a logger's file."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from django.utils import timezone
from django.utils.translation import gettext as _

from facility.people.models import Person
from facility.refusals import WrongState, not_future, number_between, refuse_if
from facility.sites.models import Bay
from records.audit.door import door
from records.stock.climate_files import Air
from records.stock.models import BayClimate


def record_climate(
    bay: Bay, air: Sequence[Air], *, by: Person, at: dt.datetime | None = None, once: str = "",
    fingerprint: str = "",
) -> int:  # fmt: skip
    """Log the air of a bay, one row for each moment; all rows or none.

    ``fingerprint`` is the SHA-256 of the file they came from, where they did.

    Raises
    ------
    WrongState
        when all of it is in the log already: the same file twice.
    """
    now = at or timezone.now()
    refuse_if(not air, "file", _("There is nothing to log."))
    for each in air:
        not_future("measured_at", each.measured_at, now)
        number_between("temperature_c", each.temperature_c, -40, 60, "°C")
        number_between("humidity_pct", each.humidity_pct, 0, 100, "%")
    with door("stock.climate_recorded", by=by, site=bay.site, on=bay, at=at, once=once) as entry:
        _refuse_known(bay, air)
        BayClimate.objects.bulk_create(
            BayClimate(
                bay=bay, measured_at=each.measured_at, temperature_c=each.temperature_c,
                humidity_pct=each.humidity_pct, recorded_at=entry.at, recorded_by=by,
            )
            for each in air
        )  # fmt: skip
        moments = [each.measured_at for each in air]
        entry.changed(number=len(air), first=min(moments), last=max(moments))
        if fingerprint:
            entry.changed(hash=fingerprint)
    return len(air)


def _refuse_known(bay: Bay, air: Sequence[Air]) -> None:
    moments = [each.measured_at for each in air]
    within = BayClimate.objects.filter(
        bay=bay, measured_at__gte=min(moments), measured_at__lte=max(moments)
    )
    known = set(within.values_list("measured_at", flat=True)) & set(moments)
    if len(known) == len(air):
        raise WrongState(
            _("All {count} moments are in the log of this bay already; nothing was logged twice.")
            .format(count=len(air))
        )  # fmt: skip
    refuse_if(
        known,
        "file",
        _("{count} of {all} moments are in the log already, the first at {first}.").format(
            count=len(known), all=len(air), first=min(known, default=None)
        ),
    )
