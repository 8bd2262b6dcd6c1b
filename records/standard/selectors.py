"""Reading waivers and standing statements."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

from django.utils.translation import gettext as _

from facility.refusals import NotHere
from facility.rulebook.models import Waiver
from facility.rules.facts import REGISTER, Known
from facility.rules.sheet import value_of
from facility.sites.models import Site
from records.standard.models import Statement


def statements_on(site: Site, day: dt.date) -> dict[str, dict[str, Known]]:
    """What is stated on a day, by target ("" is the ground itself), then by fact."""
    stated: dict[tuple[str, str], Known] = {}
    rows = Statement.objects.filter(site=site, since__lte=day).order_by("id")
    for fact, target, value, until in rows.values_list("fact", "target", "value", "until"):
        stated[target, fact] = _as_known(fact, value, until, day)
    found: dict[str, dict[str, Known]] = {}
    for (target, fact), known in stated.items():
        found.setdefault(target, {})[fact] = known
    return found


def _as_known(fact: str, value: str, until: dt.date | None, day: dt.date) -> Known:
    if not value or fact not in REGISTER:
        return Known(None, _("it was taken back"))
    if until is not None and until < day:
        return Known(None, _("it lapsed on {day}").format(day=until.strftime("%d.%m.%Y")))
    return Known(value_of(REGISTER[fact], value))


def statements(site: Site) -> list[Statement]:
    """The newest statement of each fact and target, newest first."""
    newest: dict[tuple[str, str], Statement] = {}
    rows = Statement.objects.filter(site=site).select_related("stated_by__details")
    for row in rows.order_by("id"):
        newest[row.fact, row.target] = row
    return sorted(newest.values(), key=lambda row: row.stated_at, reverse=True)


def with_units(site: Site, charts: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Charts that name their unit, with the unit itself as the services take it."""
    units = {unit.name: unit for unit in site.units.all()}
    unknown = [chart["unit"] for chart in charts if chart["unit"] not in units]
    if unknown:
        raise NotHere(_("No unit {name} on this ground.").format(name=unknown[0]))
    return [{**chart, "unit": units[chart["unit"]]} for chart in charts]


def waivers(site: Site) -> list[Waiver]:
    rows = Waiver.objects.filter(row__edition__site=site)
    return list(
        rows.select_related(
            "row__edition", "asked_by__details", "granted_by__details", "second_by__details",
            "ended_by__details",
        )
    )  # fmt: skip


def waiver_here(site: Site, public_id: str) -> Waiver:
    found = Waiver.objects.filter(row__edition__site=site, public_id=public_id)
    waiver = found.select_related(
        "row__edition", "asked_by__details", "granted_by__details"
    ).first()
    if waiver is None:
        raise NotHere(_("No such waiver on this ground."))
    return waiver
