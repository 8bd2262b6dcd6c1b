"""Reading waivers and standing statements."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django.utils.translation import gettext as _

from facility.look.times import day_in_words
from facility.people.models import Person, PersonDetails
from facility.refusals import NotHere
from facility.rulebook.models import Edition, Waiver
from facility.rulebook.selectors import authors_of
from facility.rules.engine import Rule
from facility.rules.facts import REGISTER, Fact, Known
from facility.rules.sheet import ON_THE_GROUND, value_of
from facility.sites.models import Site, Unit
from records.audit.models import Entry
from records.standard.models import Statement
from records.stock import selectors as stock
from records.stock.models import Lot, Product


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


def permit_stated(site: Site, moment: dt.datetime) -> tuple[Known, Statement | None]:
    """Whether a burn permit is on file and in date, and the statement that says so."""
    day = moment.astimezone(site.zone).date()
    fact = "permit.burn_permit"
    known = statements_on(site, day).get("", {}).get(fact, Known(None, _("nobody stated one")))
    rows = Statement.objects.filter(site=site, target="", fact=fact, since__lte=day)
    return known, rows.select_related("stated_by__details").order_by("-id").first()


def _as_known(fact: str, value: str, until: dt.date | None, day: dt.date) -> Known:
    if not value or fact not in REGISTER:
        return Known(None, _("it was taken back"))
    if until is not None and until < day:
        return Known(None, _("it lapsed on {day}").format(day=day_in_words(until)))
    return Known(value_of(REGISTER[fact], value))


WRITING = (
    "ground.edition_drafted", "ground.row_written", "ground.rows_imported",
    "ground.chart_written", "ground.check_written", "ground.edition_proposed",
)  # fmt: skip


def hands_on(edition: Edition) -> set[str]:
    """Public ids of all who ever wrote in an edition, also where another wrote over it later.

    A row names only who wrote it last; a limit that somebody set is still theirs after another
    has mended its title. The log forgets nobody.
    """
    written = Entry.objects.filter(obj=edition.named_in_log, act__in=WRITING)
    return set(written.order_by().values_list("actor", flat=True).distinct())


def wrote_in(edition: Edition, person: Person) -> bool:
    """Whether a person had a hand in an edition, and so cannot put it in force."""
    return person.pk in authors_of(edition) or person.public_id in hands_on(edition)


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


def names_of_targets(site: Site) -> dict[str, str]:
    """What a public id stands for: a unit, a person, a product or a lot of the ground."""
    units = Unit.objects.filter(site=site).values_list("public_id", "name")
    people = PersonDetails.objects.filter(person__roles__site=site).distinct()
    products = Product.objects.filter(site=site).values_list("public_id", "name")
    lots = Lot.objects.filter(site=site).values_list("public_id", "code")
    named = people.values_list("person__public_id", "name")
    return {**dict(units), **dict(named), **dict(products), **dict(lots)}


def unstated(site: Site, rules: Iterable[Rule], day: dt.date) -> list[Fact]:
    """Facts of the ground and its permits that a rule in force asks and nobody has stated."""
    stated = statements_on(site, day).get("", {})
    asked = {rule.fact: REGISTER[rule.fact] for rule in rules}
    return [
        fact
        for key, fact in asked.items()
        if fact.stated
        and fact.subject in ON_THE_GROUND
        and (key not in stated or stated[key].value is None)
    ]


def fuel_targets(site: Site) -> list[tuple[str, list[tuple[str, str]]]]:
    """Products and lots, as a form offers what a fact may be stated of."""
    products = [(each.public_id, str(each)) for each in stock.products_of(site)]
    lots = [(lot.public_id, f"{lot.code}, {lot.product}") for lot in stock.burnable_lots(site)]
    return [(_("products"), products), (_("lots"), lots)]
