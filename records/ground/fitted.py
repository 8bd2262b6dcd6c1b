"""The factors on the forecast that a unit's own burns ask for: kept, and read by plans below them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Max

from facility.calc.fitting import Factors, Fit, Seen
from facility.guarded import door_is_open
from facility.people.models import Person
from facility.sites.models import Unit
from records.ground.models import ChangeKind, UnitFit, UnitVersion


@dataclass(frozen=True, slots=True)
class KeptFit:
    """A fit as it was kept, by whom and when; ``burns`` are the public ids it rests on."""

    fit: Fit
    burns: tuple[str, ...]
    made_by: str
    at: dt.datetime


def post_fit(
    unit: Unit, fit: Fit, rests_on: Mapping[str, Seen], *, by: Person, at: dt.datetime
) -> UnitFit:
    """Keep a fit. Called by the verb that made it, behind its open door."""
    assert door_is_open()
    row = UnitFit(
        unit=unit, heat=fit.factors.heat, loss=fit.factors.loss, growth=fit.factors.growth,
        covariance=fit.covariance, stray=fit.stray, burns=fit.burns, made_by=by, recorded_at=at,
        rests_on=[
            {"burn": burn, "charge": list(seen.charge), "traits": list(seen.traits)}
            for burn, seen in rests_on.items()
        ],
    )  # fmt: skip
    row.save()
    return row


def fits_of(unit: Unit, most: int = 20) -> Sequence[KeptFit]:
    """The newest fits of a unit, newest first."""
    rows = UnitFit.objects.filter(unit=unit).select_related("made_by__details")
    return [_kept(row) for row in rows[:most]]


def newest_fit(unit: Unit) -> Fit | None:
    """The fit that counts; None while there is none of the unit as it stands now."""
    row = UnitFit.objects.filter(unit=unit).defer("rests_on").first()
    if row is None:
        return None
    since = same_since(unit)
    return None if since and row.recorded_at < since else _fit(row)


def same_since(unit: Unit) -> dt.datetime | None:
    """When a unit was last modified or relined: burns from before say nothing of it now."""
    kinds = (ChangeKind.MODIFIED, ChangeKind.RELINED)
    rows = UnitVersion.objects.filter(unit=unit, kind__in=kinds)
    since: dt.datetime | None = rows.aggregate(last=Max("since"))["last"]
    return since


def _fit(row: UnitFit) -> Fit:
    return Fit(
        Factors(row.heat, row.loss, row.growth),
        tuple(tuple(line) for line in row.covariance), tuple(row.stray), row.burns, 0,
    )  # fmt: skip


def _kept(row: UnitFit) -> KeptFit:
    burns = tuple(each["burn"] for each in row.rests_on)
    return KeptFit(_fit(row), burns, row.made_by.name, row.recorded_at)
