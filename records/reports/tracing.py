"""From boards to the people exposed, and back: what burned of a lot or docket, where, before whom.

A trace goes through the whole family of a lot: what it was cut from, and all that was cut from
that. It takes the same few queries however much there is of it. Reading only.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cached_property
from typing import Any

from django.db.models import Exists, F, OuterRef, Q, Sum
from django.utils.translation import gettext as _

from facility.people.models import Person
from facility.people.permissions import Role
from facility.refusals import NotAllowed
from facility.sites.models import Site
from records.burns.models import Attendance, Burn, BurnFuel, BurnState
from records.plans.models import ChargeIssue, ChargeLine, Plan, PlanState
from records.stock import recalling
from records.stock.descent import origins_of
from records.stock.models import Lot, Movement, MovementKind, Recall

MOST_ROOTS = 40  # lots of one name; beyond, a closer name is asked for
AHEAD = (PlanState.SUBMITTED, PlanState.APPROVED)


@dataclass(frozen=True, slots=True)
class Reader:
    """Whose exposure a person may read: everybody's, that of burns assigned, or the own.

    The table of trust in ``permissions.READS["exposure"]``: safety officers and auditors read all,
    burn managers that of burns they decided or attended, everybody their own. Whoever answers for
    a recall must reach everyone it names, so all of its burns are assigned to burn managers.
    """

    person: Person
    roles: frozenset[Role]
    recall: bool = False

    @property
    def reads_all(self) -> bool:
        wide = {Role.SAFETY, Role.AUDITOR} | ({Role.MANAGER} if self.recall else set())
        return bool(self.roles & wide)

    def reads(self, burn: Burn, there: Iterable[int]) -> bool:
        """Whether all names of a burn are this reader's to know. ``there``: keys of the people."""
        if self.reads_all:
            return True
        decision = getattr(burn.version, "decision", None)
        decided = decision is not None and decision.signed_by_id == self.person.pk
        return Role.MANAGER in self.roles and (decided or self.person.pk in set(there))


@dataclass
class BurnTraced:
    """One burn with what it used of the lots. ``names`` is what the reader may know of ``people``."""

    burn: Burn
    used: list[tuple[Lot, Decimal]] = field(default_factory=list)
    people: list[Attendance] = field(default_factory=list)
    names: list[Attendance] = field(default_factory=list)

    @cached_property
    def heads(self) -> int:
        return len({each.person_id for each in self.people})

    @cached_property
    def hidden(self) -> int:
        return self.heads - len({each.person_id for each in self.names})


@dataclass(frozen=True, slots=True)
class PersonTraced:
    person: Person
    burns: list[Burn]


@dataclass(frozen=True)
class Trace:
    """Everything that became of some boards."""

    lots: list[Any]
    burns: list[BurnTraced]
    ahead: list[tuple[Plan, list[Lot]]]
    out: list[tuple[Plan, Lot, Decimal]]
    recalls: list[Recall]

    @cached_property
    def units(self) -> list[Any]:
        return sorted({each.burn.unit for each in self.burns}, key=lambda unit: unit.name)

    @cached_property
    def heads(self) -> int:
        return len({there.person_id for each in self.burns for there in each.people})

    @cached_property
    def people(self) -> list[PersonTraced]:
        """The people the reader may know, each with the burns, by name."""
        found: dict[int, PersonTraced] = {}
        for each in self.burns:
            for there in each.names:
                told = found.setdefault(there.person_id, PersonTraced(there.person, []))
                if each.burn not in told.burns:
                    told.burns.append(each.burn)
        return sorted(found.values(), key=lambda each: each.person.name)

    @cached_property
    def hidden(self) -> int:
        return self.heads - len(self.people)


def named(site: Site, asked: str) -> list[Lot]:
    """The lots of this mark, this docket, or this number; else those whose mark or docket begins so."""
    asked = asked.strip()
    if not asked or "\0" in asked:
        return []
    lots = Lot.objects.filter(site=site).select_related("product", "delivery__supplier")
    key = asked.replace("-", "").lower()
    by_mark = lots.filter(Q(code=asked) | Q(public_id=key))
    by_docket = lots.filter(delivery__supplier__site=site, delivery__docket=asked)
    found = {lot.pk: lot for each in (by_mark, by_docket) for lot in each[:MOST_ROOTS]}
    if found:
        return list(found.values())
    # As it was typed it is none: look through all of them, whatever the case of letters.
    loose = Q(code__iexact=asked) | Q(delivery__docket__iexact=asked)
    begins = Q(code__istartswith=asked) | Q(delivery__docket__istartswith=asked)
    return list(lots.filter(loose)[:MOST_ROOTS]) or list(lots.filter(begins)[:MOST_ROOTS])


def is_exact(asked: str, lot: Lot) -> bool:
    """Whether that is what the person asked for, and no guess."""
    told = {lot.code.lower(), lot.delivery.docket.lower(), lot.public_id, lot.reference.lower()}
    return asked.strip().lower() in told


def trace(site: Site, roots: Sequence[Lot], reader: Reader) -> Trace:
    """What became of these lots and of all of the same boards."""
    return traced(site, recalling.lots_of_family(site, roots), reader)


def traced(site: Site, lots: Sequence[Any], reader: Reader) -> Trace:
    keys = [lot.pk for lot in lots]
    recalls = {recall.pk: recall for recall in recalling.recalls_on(keys).values()}
    return Trace(
        list(lots), _burns(keys, reader), plans_ahead(site, keys), _out(site, keys),
        list(recalls.values()),
    )  # fmt: skip


def burns_with(lots: Sequence[Lot]) -> list[str]:
    """The public ids of the burns that used these lots, or are using them."""
    keys = [lot.pk for lot in lots]
    return list(_burned(keys).values_list("public_id", flat=True))


def _fuel(keys: Sequence[int]) -> Any:
    """What the newest reports say was used."""
    return BurnFuel.objects.filter(lot__in=keys, used__gt=0, report__burn__current=F("report"))


def _burned(keys: Sequence[int]) -> Any:
    """Burns whose newest report names the lots; of a burn that runs, those handed out for it."""
    closed = _fuel(keys).filter(report__burn=OuterRef("pk"))
    handed = ChargeIssue.objects.filter(lot__in=keys, version=OuterRef("version"))
    return Burn.objects.filter(Exists(closed) | Q(Exists(handed), state=BurnState.BURNING))


def _burns(keys: Sequence[int], reader: Reader) -> list[BurnTraced]:
    fuel = _fuel(keys).values_list("report__burn", "lot", "used")
    running = ChargeIssue.objects.filter(lot__in=keys, version__burn__state=BurnState.BURNING)
    used = [*fuel, *running.values_list("version__burn", "lot", "quantity")]
    return _with_people(_totals(used), reader)


def _totals(used: Iterable[tuple[int, int, Decimal]]) -> dict[int, dict[int, Decimal]]:
    totals: dict[int, dict[int, Decimal]] = {}
    for burn, lot, quantity in used:
        lots = totals.setdefault(burn, {})
        lots[lot] = lots.get(lot, Decimal(0)) + quantity
    return totals


def _with_people(used: dict[int, dict[int, Decimal]], reader: Reader) -> list[BurnTraced]:
    """The burns, oldest first, each with what it used of the lots and who was there."""
    lots = Lot.objects.select_related("product", "delivery__supplier").in_bulk(
        {lot for each in used.values() for lot in each}
    )
    burns = Burn.objects.filter(pk__in=used).select_related("unit", "version__decision", "current")
    found = {burn.pk: BurnTraced(burn) for burn in burns.order_by("ignited_at")}
    there = Attendance.objects.filter(burn__in=used).select_related("person__details")
    for each in there.order_by("id"):
        found[each.burn_id].people.append(each)
    for key, told in found.items():
        told.used = [(lots[lot], quantity) for lot, quantity in used[key].items()]
        everyone = reader.reads(told.burn, (each.person_id for each in told.people))
        own = [each for each in told.people if each.person_id == reader.person.pk]
        told.names = told.people if everyone else own
    return list(found.values())


def plans_ahead(site: Site, keys: Sequence[int]) -> list[tuple[Plan, list[Lot]]]:
    """Plans still ahead that name one of the lots, or that boards of it were handed out for."""
    ahead = {"version__plan__site": site, "version__plan__state__in": AHEAD}
    current = {"version__plan__current": F("version")}
    named = ChargeLine.objects.filter(lot__in=keys, **ahead, **current)
    handed = ChargeIssue.objects.filter(lot__in=keys, **ahead)
    lots: dict[int, set[int]] = {}
    for rows in (named, handed):
        for plan, lot in rows.values_list("version__plan", "lot"):
            lots.setdefault(plan, set()).add(lot)
    if not lots:
        return []
    known = Lot.objects.in_bulk({lot for each in lots.values() for lot in each})
    plans = Plan.objects.filter(pk__in=lots).select_related("current__unit")
    return [
        (plan, [known[key] for key in sorted(lots[plan.pk])])
        for plan in plans.order_by("current__starts_at")
    ]


def recalled_plans(site: Site) -> list[tuple[Plan, list[Lot]]]:
    """Plans still ahead with a lot under a standing recall, for the day sheet."""
    recalled = Lot.objects.filter(
        site=site, recalls__isnull=False, recalls__recall__lifted__isnull=True
    )
    keys = list(recalled.distinct().values_list("pk", flat=True))
    return plans_ahead(site, keys) if keys else []


def _out(site: Site, keys: Sequence[int]) -> list[tuple[Plan, Lot, Decimal]]:
    """Boards handed out and neither burned nor back, with the plan that has them."""
    gone: dict[tuple[str, int], Decimal] = {}
    moved = Movement.objects.filter(
        lot__in=keys, kind__in=(MovementKind.ISSUE, MovementKind.RETURN)
    ).exclude(plan="")
    for plan, lot, sign, total in moved.values_list("plan", "lot", "sign").annotate(Sum("quantity")).order_by():  # fmt: skip
        gone[plan, lot] = gone.get((plan, lot), Decimal(0)) - sign * Decimal(total)
    for plan, lot, used in _fuel(keys).values_list("report__burn__version__plan__public_id", "lot", "used"):  # fmt: skip
        gone[plan, lot] = gone.get((plan, lot), Decimal(0)) - used
    left = {place: count for place, count in gone.items() if count > 0}
    if not left:
        return []
    plans = Plan.objects.filter(site=site).in_bulk({p for p, _lot in left}, field_name="public_id")
    lots = Lot.objects.select_related("product").in_bulk({lot for _plan, lot in left})
    return [(plans[plan], lots[lot], count) for (plan, lot), count in left.items() if plan in plans]


# Back again


@dataclass(frozen=True, slots=True)
class Origin:
    """One lot that a burn used, with the delivered lot it was cut from and that one's docket."""

    burn: Burn
    lot: Lot
    used: Decimal
    delivered: Lot


def origins_of_burn(burn: Burn) -> list[Origin]:
    return _origins(BurnFuel.objects.filter(report=burn.current_id), [burn.pk])


def origins_of_person(site: Site, person: Person, reader: Reader) -> list[Origin]:
    """The boards of every burn a person attended, as far as the reader may know of it.

    Raises
    ------
    NotAllowed
        when nothing of this person's exposure is the reader's to read.
    """
    own = person.pk == reader.person.pk
    burns = Burn.objects.filter(site=site, attendance__person=person).distinct()
    if not (own or reader.reads_all):
        if Role.MANAGER not in reader.roles:
            raise NotAllowed(_("Whom a person was exposed with is not yours to read."))
        mine = Attendance.objects.filter(burn=OuterRef("pk"), person=reader.person)
        burns = burns.filter(Q(version__decision__signed_by=reader.person) | Exists(mine))
    keys = list(burns.values_list("pk", flat=True))
    return _origins(BurnFuel.objects.filter(report__burn__current=F("report")), keys)


def _origins(fuel: Any, burns: Sequence[int]) -> list[Origin]:
    rows = fuel.filter(report__burn__in=burns, used__gt=0).select_related(
        "report__burn__unit", "lot__product"
    )
    used = list(rows.order_by("-report__burn__ignited_at", "id"))
    above = Lot.objects.select_related("delivery__supplier", "product").in_bulk(
        origins_of({each.lot_id for each in used})
    )
    return [
        Origin(each.report.burn, each.lot, each.used, _delivered(above, each.lot_id))
        for each in used
    ]


def _delivered(lots: dict[int, Lot], key: int) -> Lot:
    """Up to the boards as they came; ``lots`` holds every step."""
    lot = lots[key]
    seen = {key}
    while lot.cut_from_id is not None and lot.cut_from_id not in seen:
        seen.add(lot.cut_from_id)
        lot = lots[lot.cut_from_id]
    return lot
