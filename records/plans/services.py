"""What can happen to a plan: draft, revise, submit, approve, send back, withdraw, issue, return."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from django.utils.translation import gettext as _

from facility.guarded import door_is_open
from facility.kinds import Duty
from facility.people.models import Person
from facility.people.permissions import OPERATIONAL
from facility.people.selectors import held_on
from facility.refusals import (
    LimitExceeded,
    OwnWork,
    StaleVersion,
    WrongState,
    WrongValue,
    in_order,
    number_between,
    plain_number,
    refuse_if,
    text_within,
)
from facility.rules import words
from facility.rules.engine import Moment
from facility.rules.facts import REGISTER
from facility.rules.sheet import IN_PLANS, NotAValue, as_data, value_of
from facility.sites.models import Exercise, Site, UnitKind
from records.audit.door import EntryDraft, door
from records.audit.signing import signed
from records.plans import selectors
from records.plans.content import Line, PlanContent, content_hash, content_of
from records.plans.figures import LineFigures, figures_of
from records.plans.judging import Judgement, judge_plan
from records.plans.models import (
    Approval,
    ChargeIssue,
    ChargeLine,
    CrewPlace,
    Finding,
    KnownAtIgnition,
    Plan,
    PlanState,
    PlanStatement,
    PlanVersion,
    Stage,
)
from records.plans.oldest import passed_over, refuse_unsaid
from records.plans.reserving import reserve_charge
from records.plans.selectors import Handout
from records.stock.deciding import refuse_unburnable
from records.stock.ledger import lock_stock, move, release
from records.stock.models import Lot, MovementKind, ReservationCause
from records.stock.selectors import lots_by_id, reserved_for
from records.stock.services import counted

# Which state an act may start from: E2 of the threat list, "skip a step".
MAY_START_FROM: dict[str, frozenset[str]] = {
    "revise": frozenset(
        {PlanState.DRAFT, PlanState.SENT_BACK, PlanState.SUBMITTED, PlanState.APPROVED}
    ),
    "submit": frozenset({PlanState.DRAFT}),
    "approve": frozenset({PlanState.SUBMITTED}),
    "send_back": frozenset({PlanState.SUBMITTED}),
    "withdraw": frozenset(
        {PlanState.DRAFT, PlanState.SENT_BACK, PlanState.SUBMITTED, PlanState.APPROVED}
    ),
    "issue": frozenset({PlanState.APPROVED}),
    "start": frozenset({PlanState.APPROVED}),
    "return": frozenset({PlanState.APPROVED, PlanState.BURNED}),
}
MOST_LINES, MOST_PEOPLE = 12, 60


def refuse_state(plan: Plan, act: str) -> None:
    """Refuse an act that the plan's state does not allow."""
    if plan.state not in MAY_START_FROM[act]:
        raise WrongState(
            _("The plan is {state}; that does not allow this.").format(
                state=PlanState(plan.state).label
            )
        )


def draft_plan(
    site: Site, content: PlanContent, *, by: Person, at: dt.datetime | None = None, once: str = ""
) -> Plan:
    """Write down a new plan."""
    plan = Plan(site=site)
    with door("plans.plan_drafted", by=by, site=site, on=plan, at=at, once=once) as entry:
        check_content(content, site, entry.at)
        plan.save()
        _write_version(plan, content, 1, by, entry)
    return plan


def revise_plan(
    plan: Plan, content: PlanContent, *, seen_version: int, by: Person,
    at: dt.datetime | None = None, once: str = "",
) -> Plan:  # fmt: skip
    """Write a new version, which needs a new approval; what was approved before is kept."""
    with door("plans.plan_revised", by=by, site=plan.site, on=plan, at=at, once=once) as entry:
        plan = plan.fresh()
        refuse_state(plan, "revise")
        current = selectors.newest_version(plan)
        if current.number != seen_version:
            raise StaleVersion(
                _(
                    "{name} saved version {number} of this plan while you were working on it."
                ).format(name=current.written_by.name, number=current.number)
            )
        if any(selectors.issued_by_lot(plan).values()):
            raise WrongState(_("Boards were issued for this plan; return them before changing it."))
        check_content(content, plan.site, entry.at)
        release(plan.public_id, ReservationCause.REVISED, by=by, at=entry.at)
        entry.before["hash"] = current.content_hash
        _write_version(plan, content, current.number + 1, by, entry)
    return plan


def check_content(content: PlanContent, site: Site, at: dt.datetime) -> None:
    """What every plan must be, whichever entrance it came in by."""
    refuse_if(content.unit.site_id != site.pk, "unit", _("No such unit on this ground."))
    refuse_if(content.exercise not in Exercise.values, "exercise", _("This exercise is not known."))
    window = content.unit.kind == UnitKind.WINDOW
    refuse_if(
        content.exercise == Exercise.WINDOW and not window,
        "exercise",
        _("A backdraught is shown only in a window unit, with nobody inside."),
    )
    in_order("ends_at", content.starts_at, content.ends_at)
    refuse_if(
        content.ends_at - content.starts_at > dt.timedelta(hours=12),
        "ends_at",
        _("One burn takes at most 12 hours."),
    )
    refuse_if(
        content.starts_at < at - dt.timedelta(days=1),
        "starts_at",
        _("A plan is made before the burn; this start has passed."),
    )
    refuse_if(
        content.starts_at > at + dt.timedelta(days=730),
        "starts_at",
        _("A plan reaches at most two years ahead."),
    )
    number_between("water_l", content.water_l, 0, 500_000, "L")
    text_within("objective", content.objective, 300)
    text_within("abort_criteria", content.abort_criteria, 500)
    _check_charge(content, site)
    _check_crew(content, site)
    _check_stated(content)


def _check_stated(content: PlanContent) -> None:
    """Only what no record can tell is stated, each fact once, in a value of its kind."""
    facts = [fact for fact, _value in content.stated]
    refuse_if(len(facts) != len(set(facts)), "stated", _("A fact is stated once."))
    for key, value in content.stated:
        fact = REGISTER.get(key)
        if fact is None or not fact.stated or fact.subject not in IN_PLANS:
            raise WrongValue(_("{fact} is not stated in a plan.").format(fact=key), field="stated")
        try:
            value_of(fact, value)
        except NotAValue as wrong:
            raise WrongValue(
                f"{_(fact.meaning)}: {wrong.given}: {_(wrong.allowed)}.", field="stated"
            ) from None


def _check_charge(content: PlanContent, site: Site) -> None:
    refuse_if(
        len(content.charge) > MOST_LINES,
        "charge",
        _("At most {most} lines make a charge.").format(most=MOST_LINES),
    )
    for line in content.charge:
        refuse_if(line.product.site_id != site.pk, "charge", _("No such product on this ground."))
        refuse_if(
            line.position.unit_id != content.unit.pk or not line.position.fitted,
            "charge",
            _("Position {position} is not in this unit.").format(position=line.position),
        )
        refuse_if(
            line.lot is not None
            and (line.lot.site_id != site.pk or line.lot.product_id != line.product.pk),
            "charge",
            _("Lot {lot} is not a lot of {product} here.").format(
                lot=line.lot, product=line.product
            ),
        )
        counted("charge", line.product, line.quantity)


def _named_lots(content: PlanContent) -> list[Lot]:
    return [line.lot for line in content.charge if line.lot is not None]


def _check_crew(content: PlanContent, site: Site) -> None:
    refuse_if(
        len(content.crew) > MOST_PEOPLE,
        "crew",
        _("At most {most} places make a crew.").format(most=MOST_PEOPLE),
    )
    day = content.starts_at.astimezone(site.zone).date()
    people = {place.person.pk for place in content.crew}
    held = dict(_roles_here(site, day, people))
    for place in content.crew:
        roles = held.get(place.person.pk, set())
        refuse_if(place.duty not in Duty.values, "crew", _("This duty is not known."))
        refuse_if(
            not roles,
            "crew",
            _("{person} is not on this ground's list that day.").format(person=place.person),
        )
        refuse_if(
            place.duty != Duty.LEARNER and not roles & OPERATIONAL,
            "crew",
            _("{person} holds no working role here and cannot be {duty}.").format(
                person=place.person, duty=Duty(place.duty).label
            ),
        )
    learners = {person.pk for person in content.learners}
    refuse_if(
        any(place.person.pk in learners and place.duty != Duty.LEARNER for place in content.crew),
        "crew",
        _("Whoever learns in a burn has no duty in it."),
    )
    places = [(place.person.pk, place.duty) for place in content.crew]
    refuse_if(
        len(places) != len(set(places)), "crew", _("The same person stands twice in one duty.")
    )


def _roles_here(site: Site, day: dt.date, people: set[int]) -> dict[int, set[str]]:
    held: dict[int, set[str]] = {}
    rows = site.roles.filter(held_on(day), person__in=people).values_list("person", "role")
    for person, role in rows:
        held.setdefault(person, set()).add(role)
    return held


def _as_kept(content: PlanContent) -> PlanContent:
    """The content as the rows will hold it, so that they give the signed hash again."""
    return replace(
        content,
        water_l=content.water_l.quantize(Decimal(1)),
        objective=content.objective.strip(),
        abort_criteria=content.abort_criteria.strip(),
        stated=tuple(sorted((fact, value.strip()) for fact, value in content.stated)),
    )


def _write_version(
    plan: Plan, content: PlanContent, number: int, by: Person, entry: EntryDraft
) -> PlanVersion:
    content = _as_kept(content)
    version = PlanVersion(
        plan=plan, number=number, written_by=by, written_at=entry.at,
        content_hash=content_hash(content), unit=content.unit, exercise=content.exercise,
        starts_at=content.starts_at, ends_at=content.ends_at, water_l=content.water_l,
        objective=content.objective, abort_criteria=content.abort_criteria,
    )  # fmt: skip
    version.save()
    for order, line in enumerate(content.charge):
        ChargeLine(
            version=version, order=order, position=line.position, product=line.product,
            lot=line.lot, quantity=line.quantity,
        ).save()  # fmt: skip
    for place in content.crew:
        CrewPlace(version=version, person=place.person, duty=place.duty).save()
    for fact, value in content.stated:
        PlanStatement(version=version, fact=fact, value=value).save()
    plan.current, plan.state = version, PlanState.DRAFT
    plan.save()
    entry.changed(version=number, hash=version.content_hash, unit=content.unit)
    return version


def submit_plan(
    plan: Plan, *, seen_hash: str, by: Person, at: dt.datetime | None = None, once: str = ""
) -> Judgement:
    """Hand a draft to a burn manager. What blocks is refused here already."""
    with door("plans.plan_submitted", by=by, site=plan.site, on=plan, at=at, once=once) as entry:
        plan, version = _locked(plan, "submit", seen_hash)
        content = content_of(version)
        judgement = judge_plan(
            content, site=plan.site, at=entry.at, plan=plan, moment=Moment.SUBMIT
        )
        if judgement.blocking:
            raise LimitExceeded(judgement.blocking)
        refuse_unburnable(_named_lots(content))  # whatever the rows of this ground ask
        store_findings(version, Stage.SUBMIT, judgement, entry.at)
        _set_state(plan, PlanState.SUBMITTED, entry)
    return judgement


def _locked(plan: Plan, act: str, seen_hash: str) -> tuple[Plan, PlanVersion]:
    """The plan as it is now, locked; refused when it is not the content that was seen."""
    plan = plan.fresh()
    version = selectors.newest_version(plan)
    if version.content_hash != seen_hash:
        raise StaleVersion(
            _(
                "{name} changed this plan since you opened it; version {number} is the newest."
            ).format(name=version.written_by.name, number=version.number)
        )
    refuse_state(plan, act)
    return plan, version


def _set_state(plan: Plan, state: PlanState, entry: EntryDraft) -> None:
    entry.changed({"state": plan.state}, state=state)
    plan.state = state
    plan.save()


def approve_plan(
    plan: Plan, *, meaning: str, shown_hash: str, by: Person, at: dt.datetime | None = None,
    once: str = "",
) -> Judgement:  # fmt: skip
    """Approve exactly what was shown; never one's own plan, never over a blocking limit."""
    with door("plans.plan_approved", by=by, site=plan.site, on=plan, at=at, once=once) as entry:
        plan, version = _locked(plan, "approve", shown_hash)
        if by.pk in selectors.authors_of(plan):
            raise OwnWork(_("You wrote a version of this plan; someone else must approve it."))
        content = content_of(version)
        judgement = judge_plan(
            content, site=plan.site, at=entry.at, plan=plan, moment=Moment.APPROVE
        )
        if judgement.blocking:
            raise LimitExceeded(judgement.blocking)
        refuse_unburnable(_named_lots(content))
        store_findings(version, Stage.APPROVE, judgement, entry.at)
        Approval(
            version=version, approved=True,
            meaning=signed(entry, meaning=meaning, content_hash=version.content_hash),
            content_hash=version.content_hash, edition=judgement.edition, signed_by=by,
            signed_at=entry.at,
        ).save()  # fmt: skip
        _set_state(plan, PlanState.APPROVED, entry)
        reserved = reserve_charge(version, by=by, at=entry.at)
        entry.changed(edition=judgement.edition.code, lots=reserved)
    return judgement


def send_back_plan(
    plan: Plan, *, reason: str, shown_hash: str, by: Person, at: dt.datetime | None = None,
    once: str = "",
) -> None:  # fmt: skip
    """Return a submitted plan to its author, with the reason."""
    reason = text_within("reason", reason, 500)
    with door(
        "plans.plan_sent_back", by=by, site=plan.site, on=plan, at=at, why=reason, once=once
    ) as entry:
        plan, version = _locked(plan, "send_back", shown_hash)
        Approval(
            version=version, approved=False, meaning=_("sent back"), reason=reason,
            content_hash=version.content_hash, signed_by=by, signed_at=entry.at,
        ).save()  # fmt: skip
        _set_state(plan, PlanState.SENT_BACK, entry)


def withdraw_plan(
    plan: Plan, *, reason: str, by: Person, at: dt.datetime | None = None, once: str = ""
) -> None:
    reason = text_within("reason", reason, 500)
    with door(
        "plans.plan_withdrawn", by=by, site=plan.site, on=plan, at=at, why=reason, once=once
    ) as entry:
        plan = plan.fresh()
        refuse_state(plan, "withdraw")
        if any(selectors.issued_by_lot(plan).values()):
            raise WrongState(_("Boards were issued for this plan; return them first."))
        release(plan.public_id, ReservationCause.WITHDRAWN, by=by, at=entry.at)
        _set_state(plan, PlanState.WITHDRAWN, entry)


def store_findings(
    version: PlanVersion, stage: Stage, judgement: Judgement, at: dt.datetime
) -> None:
    """Keep the findings as they were. Called behind an open door, here and at ignition."""
    assert door_is_open()
    codes = {edition.code: edition for edition in judgement.editions}
    Finding.objects.bulk_create(
        Finding(
            version=version, stage=stage, edition=codes.get(found.rule.edition, judgement.edition),
            judged_at=at, code=found.rule.code, title=found.rule.title, about=found.label[:80],
            verdict=found.verdict, severity=found.rule.severity,
            measured=words.measured(found, _)[:60], allowed=words.allowed(found, _)[:200],
            margin=words.margin(found, _)[:40], clause=found.rule.clause[:200],
            sentence=words.sentence(found, _)[:500], also=words.also(found, _)[:300],
            waiver=found.waiver,
        )
        for found in judgement.findings
    )  # fmt: skip


def keep_facts(version: PlanVersion, judgement: Judgement, ignited_at: dt.datetime) -> None:
    """Keep all that was known at ignition. Called by the burn services, behind their open door."""
    assert door_is_open()
    KnownAtIgnition(version=version, ignited_at=ignited_at, facts=as_data(judgement.sheet)).save()


def issue_charge(
    plan: Plan, handouts: Sequence[Handout], *, by: Person, why_younger: str = "",
    at: dt.datetime | None = None, once: str = "",
) -> Judgement:  # fmt: skip
    """Hand the boards of an approved plan out of the store, and judge them as issued.

    ``why_younger`` is needed when an older accepted lot stays lying; it is kept with the movement.

    Never more than the plan says at a position, only accepted lots, and still within every limit
    at the moisture of the lots that really leave.
    """
    why = text_within("why_younger", why_younger, 300, needed=False)
    with door(
        "plans.charge_issued", by=by, site=plan.site, on=plan, at=at, why=why, once=once
    ) as entry:
        plan = plan.fresh()
        refuse_state(plan, "issue")
        version = selectors.newest_version(plan)
        if any(selectors.issued_by_lot(plan).values()):
            raise WrongState(_("The charge of this plan was issued before."))
        _check_handouts(version, handouts)
        departures = passed_over(plan.site, handouts)
        refuse_unsaid(departures, why)
        younger = {handout.lot.pk for handout, _older, _left in departures}
        judgement = judge_plan(
            content_of(version), site=plan.site, at=entry.at, plan=plan,
            figures=figures_of(plan.site, [_line_of(handout) for handout in handouts]),
        )  # fmt: skip
        if judgement.blocking:
            raise LimitExceeded(judgement.blocking)
        claimed = [held.lot for held in reserved_for(plan.public_id)]
        lock_stock([*(handout.lot for handout in handouts), *claimed])
        release(plan.public_id, ReservationCause.ISSUED, by=by, at=entry.at)
        for handout in handouts:
            reason = why if handout.lot.pk in younger else ""
            _hand_out(version, handout, plan, by, entry.at, reason)
        entry.changed(
            version=version.number,
            boards=[[each.lot.code, each.line.position.name, each.quantity] for each in handouts],
        )
    return judgement


def _line_of(handout: Handout) -> Line:
    return Line(handout.line.position, handout.line.product, handout.quantity, handout.lot)


def _check_handouts(version: PlanVersion, handouts: Sequence[Handout]) -> None:
    refuse_if(not handouts, "quantity", _("Nothing was chosen to issue."))
    refuse_unburnable((handout.lot for handout in handouts), leaving=True)
    totals: dict[int, Decimal] = {}
    for handout in handouts:
        if handout.line.version_id != version.pk:
            raise WrongValue(_("This line is not part of the approved version."), field="line")
        counted("quantity", handout.line.product, handout.quantity)
        refuse_if(
            handout.lot.product_id != handout.line.product_id,
            "lot",
            _("Lot {lot} is not {product}.").format(lot=handout.lot, product=handout.line.product),
        )
        refuse_if(
            handout.line.lot_id not in (None, handout.lot.pk),
            "lot",
            _("The approved plan names lot {named} here, not {lot}.").format(
                named=handout.line.lot, lot=handout.lot
            ),
        )
        totals[handout.line.pk] = totals.get(handout.line.pk, Decimal(0)) + handout.quantity
        refuse_if(
            totals[handout.line.pk] > handout.line.quantity,
            "quantity",
            _("{position}: {given} asked for, the plan allows {allowed}.").format(
                position=handout.line.position,
                given=plain_number(totals[handout.line.pk]),
                allowed=plain_number(handout.line.quantity),
            ),
        )


def _hand_out(
    version: PlanVersion, handout: Handout, plan: Plan, by: Person, at: dt.datetime, reason: str
) -> None:
    move(
        handout.lot, MovementKind.ISSUE, handout.quantity, by=by, happened_at=at, recorded_at=at,
        plan=plan.public_id, reason=reason,
    )  # fmt: skip
    ChargeIssue(
        version=version, line=handout.line, lot=handout.lot, quantity=handout.quantity,
        issued_at=at, issued_by=by,
    ).save()  # fmt: skip


def mark_burning(plan: Plan, entry: EntryDraft) -> PlanVersion:
    """The plan's fire is lit. Called by the burn services, behind their open door."""
    assert door_is_open()
    plan = plan.fresh()
    refuse_state(plan, "start")
    version = selectors.newest_version(plan)
    refuse_unburnable((issue.lot for issue, _left in selectors.net_issues(version)), leaving=True)
    _set_state(plan, PlanState.BURNING, entry)
    return version


def mark_burned(plan: Plan, entry: EntryDraft) -> None:
    """The plan's burn is closed. Called by the burn services, behind their open door."""
    assert door_is_open()
    _set_state(plan.fresh(), PlanState.BURNED, entry)


def judge_as_it_stands(plan: Plan, *, at: dt.datetime) -> Judgement:
    """Judge the newest version with the charge that was issued, else with the one planned."""
    version = plan.version
    figures = figures_as_issued(version) or None
    return judge_plan(content_of(version), site=plan.site, at=at, plan=plan, figures=figures)


def figures_as_issued(version: PlanVersion) -> list[LineFigures]:
    """Mass and energy of the charge as it is out of the store now."""
    out = selectors.net_issues(version)
    lots = lots_by_id(version.plan.site, (issue.lot.public_id for issue, _left in out))
    lines = [
        Line(issue.line.position, issue.lot.product, left, lots[issue.lot.public_id])
        for issue, left in out
    ]
    return figures_of(version.plan.site, lines)
