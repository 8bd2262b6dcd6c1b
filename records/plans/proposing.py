"""Proposing the boards of a plan: what is free and dry, the caps in force, and the programme.

Nothing is written. The rules are asked by judging the plan as if it drew on every lot that is
free: the findings say which caps hold for this unit and burn of the day, and which lots block.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from facility.calc import charge
from facility.calc.charge import DRY_MASS, ENERGY, Cap, Limits, MoistureLimit, Reason, Stack, Wish
from facility.look.reader import current_system
from facility.refusals import WrongState, WrongValue
from facility.rules import words
from facility.rules.engine import Finding
from facility.rules.facts import Subject
from facility.sites.models import ChargePosition, Site
from records.plans import selectors
from records.plans.content import Line, PlanContent
from records.plans.figures import LineFigures
from records.plans.judging import Judgement, judge_plan
from records.plans.models import Plan
from records.plans.services import MOST_LINES

SHARE = 0.85  # of the tightest cap when no target is given: clear of "near the limit", our choice

CAPS = {"charge.energy": ENERGY, "charge.dry_mass": DRY_MASS}
MOISTURE = ("charge.moisture_highest", "charge.moisture_lowest")


class NoProposal(WrongValue):
    """No boards can be proposed; ``reasons`` say why, one sentence each."""

    status = 422

    def __init__(self, reasons: Sequence[str], *, field: str = "") -> None:
        self.reasons = reasons
        super().__init__(reasons[0], field=field)


@dataclass(frozen=True, slots=True)
class Proposed:
    """The lines of the charge, other fuel of the plan included, and why these boards."""

    lines: tuple[Line, ...]
    reasons: tuple[str, ...]


def propose_charge(
    content: PlanContent, *, site: Site, at: Any, plan: Plan | None = None,
    target_mj: float | Decimal | None = None, products: Iterable[str] = (),
) -> Proposed:  # fmt: skip
    """Boards for the plan's target energy [MJ], by default a share of the tightest cap.

    ``products`` narrows the choice to boards of these public ids; without any, to those that the
    plan names already, if it does. Boards already on the plan are replaced; kindling and other
    fuel stays, and counts.

    Raises
    ------
    NoProposal
        when the target is none or over a cap, or stock and caps allow no choice.
    """
    kept = tuple(line for line in content.charge if not line.product.is_board)
    places = _places(content, kept)
    named = {line.product.public_id for line in content.charge if line.product.is_board}
    offered = _offered(site, plan, set(products) or named, places[0])
    whole = replace(content, charge=(*kept, *(line for line, _free in offered)))
    judgement = judge_plan(whole, site=site, at=at, plan=plan)
    figures, candidates = judgement.figures[: len(kept)], judgement.figures[len(kept) :]
    blocked = _blocked(judgement)
    free = {line.lot.public_id: int(number) for line, number in offered if line.lot}
    stacks = [
        _stack(each, free[each.lot.public_id], site)
        for each in candidates
        if each.lot is not None and each.per_board and each.lot.code not in blocked
    ]
    limits = _limits(judgement, figures)
    try:
        target = _default_target(limits, stacks) if target_mj is None else float(target_mj)
        found = charge.propose(stacks, limits, _wish(target, places, kept))
    except charge.NoCharge as refused:
        raise NoProposal([*_said(refused.reasons), *blocked.values()], field="target") from None
    lots = {each.lot.public_id: each.line for each in candidates if each.lot is not None}
    lines = _spread(found.taken, lots, places)
    return Proposed((*lines, *kept), (*_said(found.reasons), *blocked.values()))


# -- where the boards go, and what is there ----------------------------------------------


def _places(content: PlanContent, kept: Sequence[Line]) -> list[ChargePosition]:
    """The positions that need boards: those that have some, else those without other fuel."""
    positions = list(content.unit.positions.all())
    named = {line.position.pk for line in content.charge if line.product.is_board}
    taken = {line.position.pk for line in kept}
    wanted = [place for place in positions if place.pk in named]
    found = wanted or [place for place in positions if place.pk not in taken] or positions
    if not found:
        raise WrongState(_("The unit has no positions for boards."))
    return found


def _offered(
    site: Site, plan: Plan | None, products: set[str], place: ChargePosition
) -> list[tuple[Line, Decimal]]:
    """One line of one board for each lot that has boards free, with how many."""
    return [
        (Line(place, lot.product, Decimal(1), lot), free)
        for lot, free in selectors.available(site, besides=plan)
        if lot.product.is_board and (not products or lot.product.public_id in products)
    ]


def _stack(each: LineFigures, free: int, site: Site) -> Stack:
    lot, board = each.lot, each.per_board
    assert lot is not None
    assert board is not None
    return Stack(
        key=lot.public_id, code=lot.code, product=str(lot.product),
        delivered=lot.delivery.delivered_at.astimezone(site.zone).date(), available=free,
        dry_mass=board.dry_mass_kg, energy=board.energy_mj, moisture=float(lot.moisture_pct),
    )  # fmt: skip


def _wish(target: float, places: Sequence[ChargePosition], kept: Sequence[Line]) -> Wish:
    """Lots are spread over positions in order, so lines number at most positions + lots - 1."""
    lots = MOST_LINES - len(kept) - len(places) + 1
    if lots < 1:
        raise WrongState(_("The other fuel leaves no line free for boards."))
    return Wish(target, least_boards=len(places), most_lots=lots)


def _spread(
    taken: Sequence[charge.Taken], lots: Mapping[str, Line], places: Sequence[ChargePosition]
) -> list[Line]:
    """The boards over the positions, as evenly as they go, the first positions one more."""
    boards = [each.stack.key for each in taken for _board in range(each.count)]
    share, more = divmod(len(boards), len(places))
    lines, start = [], 0
    for number, place in enumerate(places):
        end = start + share + (number < more)
        here = boards[start:end]
        for key in dict.fromkeys(here):
            line = lots[key]
            lines.append(Line(place, line.product, Decimal(here.count(key)), line.lot))
        start = end
    return lines


# -- what the standard says ---------------------------------------------------------------


def _asked(judgement: Judgement) -> Iterator[Finding]:
    """Every finding, the milder ones that another carries along included; not what is waived or
    only noted."""
    for finding in judgement.findings:
        for each in (finding, *finding.also):
            if not each.waiver and each.rule.severity != "note":
                yield each


def _limits(judgement: Judgement, kept: Sequence[LineFigures]) -> Limits:
    caps, moisture = [], []
    for finding in _asked(judgement):
        rule = finding.rule
        if rule.limit is None:
            continue
        low, high = (rule.limit / rule.scale, (rule.limit_high or rule.limit) / rule.scale)
        if rule.fact in CAPS and rule.comparison in ("<=", "within", "between"):
            caps.append(Cap(CAPS[rule.fact], high, _named(finding)))
        elif rule.fact in MOISTURE and rule.comparison in ("<=", "within"):
            moisture.append(MoistureLimit(None, high, _named(finding)))
        elif rule.fact in MOISTURE and rule.comparison == ">=":
            moisture.append(MoistureLimit(low, None, _named(finding)))
        elif rule.fact in MOISTURE and rule.comparison == "between":
            moisture.append(MoistureLimit(low, high, _named(finding)))
    beside = {
        ENERGY: sum(each.energy_mj or 0.0 for each in kept),
        DRY_MASS: sum(each.dry_mass_kg or 0.0 for each in kept),
    }
    return Limits(tuple(caps), tuple(moisture), beside)


def _named(finding: Finding) -> str:
    return f"{finding.rule.code}, {finding.rule.clause}"


def _blocked(judgement: Judgement) -> dict[str, str]:
    """The lots that a rule about lots blocks, by their mark, with the sentence of the rule."""
    return {
        finding.label: _("Lot {lot} is left out: {why}").format(
            lot=finding.label, why=words.sentence(finding, _, current_system())
        )
        for finding in judgement.findings
        if finding.blocks and finding.rule.subject == Subject.LOT
    }


def _default_target(limits: Limits, stacks: Sequence[Stack]) -> float:
    """The share of the tightest cap; a cap on mass counts by what a kg of these boards holds."""
    if not stacks:
        return 1.0  # whatever it is, it will be refused for want of boards
    richest = max(each.energy / each.dry_mass for each in stacks)
    beside = limits.beside
    energies = [
        SHARE * cap.limit
        if cap.what == ENERGY
        else beside[ENERGY] + max(SHARE * cap.limit - beside[DRY_MASS], 0.0) * richest
        for cap in limits.caps
    ]
    if not energies:
        raise NoProposal(
            [_("No cap is in force for this burn; type the energy you want.")], field="target"
        )
    return min(energies)


def _said(reasons: Iterable[Reason]) -> list[str]:
    """The reasons in the reader's words and units."""
    return [_(reason.text).format(**_written(reason)) for reason in reasons]


def _written(reason: Reason) -> dict[str, Any]:
    system = current_system()
    return {
        name: words.amount(value.number, value.unit, _, system)
        if isinstance(value, charge.Amount)
        else value
        for name, value in reason.values.items()
    }
