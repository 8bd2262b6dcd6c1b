"""The pages of plans: list, writing with live findings, deciding, issuing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from facility.look.forms import sent
from facility.look.lists import listed
from facility.people.gate import GroundRequest, may
from facility.refusals import Refused, StaleVersion, in_order, plain_number
from facility.sites.drawing import long_section
from records.audit.selectors import receipt_address
from records.ground.selectors import units_of
from records.plans import selectors, services
from records.plans.comparing import side_by_side
from records.plans.content import PlanContent, content_of
from records.plans.forecast import Forecast, forecast, taken_for_granted
from records.plans.forms import (
    ApprovalForm,
    IssueForm,
    PlanForm,
    ProposeForm,
    ReasonForm,
    initial_of,
)
from records.plans.judging import Judgement, judge_plan
from records.plans.oldest import passed_over
from records.plans.proposing import NoProposal, propose_charge
from records.plans.restricting import touched
from records.plans.tables import PlanFilter, PlanTable


def plans(request: GroundRequest) -> HttpResponse:
    found = PlanFilter(
        request.GET, queryset=selectors.plans_of(request.ground), units=units_of(request.ground)
    )
    return render(request, "plans/plans.html", listed(request, PlanTable, found))


def _form(request: GroundRequest, initial: dict[str, Any] | None = None) -> PlanForm:
    today = request.now.astimezone(request.ground.zone).date()
    return PlanForm(sent(request), site=request.ground, today=today, initial=initial)


def new(request: GroundRequest) -> HttpResponse:
    form = _form(request, {"water_l": "12000"})
    if request.method == "POST" and form.is_valid():
        content = form.whole()
        plan = form.carry_out(
            lambda: services.draft_plan(
                request.ground, content, by=request.person, once=form.cleaned_data["once"]
            )
        )
        if plan:
            messages.success(request, _("The plan is drafted. Read its findings, then submit it."))
            return redirect("plans:plan", plan.public_id)
    return render(request, "plans/edit.html", _editing(request, form, None), status=form.status)


def edit(request: GroundRequest, public_id: str) -> HttpResponse:
    plan = selectors.plan_here(request.ground, public_id)
    services.refuse_state(plan, "revise")
    form = _form(request, initial_of(content_of(plan.version), plan.version.number))
    if request.method == "POST" and form.is_valid():
        content, seen = form.whole(), form.cleaned_data["seen_version"] or 0
        form.carry_out(
            lambda: services.revise_plan(
                plan, content, seen_version=seen, by=request.person, once=form.cleaned_data["once"]
            )
        )
        if not form.refused:
            messages.success(request, _("The new version is saved; it needs a new approval."))
            return redirect("plans:plan", plan.public_id)
    context = _editing(request, form, plan) | _meanwhile(request, form, public_id)
    return render(request, "plans/edit.html", context, status=form.status)


def _meanwhile(request: GroundRequest, form: PlanForm, public_id: str) -> dict[str, Any]:
    """When someone saved first: both versions, and a form that knows of the other one.

    Saving again is then a decision made with both in view; either way both are kept.
    """
    typed = form.content() if isinstance(form.refused, StaleVersion) else None
    if typed is None:
        return {}
    newest = selectors.plan_here(request.ground, public_id).version
    form.have_seen(newest.number)
    return {
        "both": side_by_side(typed, content_of(newest)),
        "stored_by": newest.written_by.name,
        "stored_at": newest.written_at,
        "then": _("If you save again, yours becomes the newest version; theirs stays to be read."),
    }


def _editing(request: GroundRequest, form: PlanForm, plan: Any) -> dict[str, Any]:
    content = form.content() if form.is_bound else content_of(plan.version) if plan else None
    asked = ProposeForm(products=form.products.values())
    return {"form": form, "plan": plan, "asked": asked, **_seen(request, content, plan)}


def _seen(request: GroundRequest, content: PlanContent | None, plan: Any) -> dict[str, Any]:
    """What is shown beside a plan: the judgement and the drawing, when they can be made."""
    if content is None:
        return {"judgement": None}
    try:
        in_order("ends_at", content.starts_at, content.ends_at)
        judgement = judge_plan(content, site=request.ground, at=request.now, plan=plan)
    except Refused as refused:
        return {"judgement": None, "refused": refused, "drawing": _drawing(content, tap=True)}
    found = forecast(content.unit, judgement.figures, judgement.dry_mass_kg)
    return {
        "judgement": judgement,
        "content": content,
        "forecast": found,
        "granted": taken_for_granted(),
        "drawing": _drawing(content, found, tap=True),
    }


def _drawing(content: PlanContent, found: Forecast | None = None, *, tap: bool = False) -> str:
    filled: dict[str, str] = {}
    for line in content.charge:
        what = f"{plain_number(line.quantity)} {line.product.counted_in} {line.product}"
        filled[line.position.public_id] = "; ".join(
            filter(None, (filled.get(line.position.public_id), what))
        )
    return long_section(
        content.unit, filled, tap=tap, layer_m=found.lowest_layer_m if found else None
    )


def findings(request: GroundRequest) -> HttpResponse:
    """The findings of what is on the form now; nothing is stored."""
    form = _form(request)
    form.is_valid()
    plan_id = request.POST.get("plan", "")
    plan = selectors.plan_here(request.ground, plan_id) if plan_id else None
    return render(request, "plans/live_answer.html", _seen(request, form.content(), plan))


def propose(request: GroundRequest) -> HttpResponse:
    """Boards put forward for what is on the form now; nothing is stored.

    Answers with the charge alone to a page that is alive, else with the whole form.
    """
    form = _form(request)
    form.is_valid()
    plan_id = request.POST.get("plan", "")
    plan = selectors.plan_here(request.ground, plan_id) if plan_id else None
    asked = ProposeForm(request.POST, products=form.products.values())
    reasons = _proposed(request, form, asked, plan)
    form.errors.clear()  # what is not typed yet is no fault at this point
    context = {"form": form, "plan": plan, "asked": asked, "reasons": reasons}
    alive = "HX-Request" in request.headers
    page, status = "plans/edit.html#charge", 200 if asked.is_valid() else 422
    if not alive:
        page, context = "plans/edit.html", context | _seen(request, form.content(), plan)
    return render(request, page, context, status=status)


def _proposed(
    request: GroundRequest, form: PlanForm, asked: ProposeForm, plan: Any
) -> Sequence[str]:
    """Fill the form's charge with the proposal; give the reasons for it, or against one."""
    content = form.content()
    if content is None:
        asked.add_error(None, _("Choose the unit, the start and the end first."))
    if content is None or not asked.is_valid():
        return ()
    given = asked.cleaned_data
    try:
        in_order("ends_at", content.starts_at, content.ends_at)
        found = propose_charge(
            content, site=request.ground, at=request.now, plan=plan, target_mj=given["target"],
            products=given["fuels"],
        )  # fmt: skip
    except Refused as refused:
        asked.refuse(refused)
        return refused.reasons[1:] if isinstance(refused, NoProposal) else ()
    form.fill_charge(found.lines)
    return found.reasons


def plan(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.plan_here(request.ground, public_id)
    content = content_of(found.version)
    judgement, stored = _judgement(request, found, content)
    ahead = forecast(content.unit, judgement.figures, judgement.dry_mass_kg) if judgement else None
    context = {
        "plan": found,
        "version": found.version,
        "content": content,
        "judgement": judgement,
        "stored": stored,
        "forecast": ahead,
        "granted": taken_for_granted(),
        "drawing": _drawing(content, ahead),
        "versions": selectors.versions_of(found),
        "issued": selectors.issued_of(found.version),
        "touched": next(iter(touched([found], request.now)), None),
        "wrote_it": request.person.pk in selectors.authors_of(found),
        "may_submit": may(request, "plans.plan_submitted") and found.state == "draft",
        "may_decide": may(request, "plans.plan_approved") and found.state == "submitted",
        "may_issue": may(request, "plans.charge_issued") and found.state == "approved",
        "may_start": may(request, "burns.burn_started") and found.state == "approved",
        "may_revise": may(request, "plans.plan_revised")
        and found.state in services.MAY_START_FROM["revise"],
    }
    return render(request, "plans/plan.html", context)


def _judgement(
    request: GroundRequest, found: Any, content: PlanContent
) -> tuple[Judgement | None, list[Any]]:
    """Today's judgement of a plan still ahead; the stored findings of one that was lit."""
    if found.state in ("burning", "burned"):
        return None, selectors.findings_of(found.version, "ignite")
    try:
        return services.judge_as_it_stands(found, at=request.now), []
    except Refused as refused:
        messages.warning(request, refused.sentence)
        return None, []


def submit(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.plan_here(request.ground, public_id)
    services.submit_plan(
        found, seen_hash=request.POST.get("shown_hash", ""), by=request.person,
        once=request.POST.get("once", "")[:40],
    )  # fmt: skip
    messages.success(request, _("Submitted; a burn manager who did not write it decides."))
    return redirect("plans:plan", found.public_id)


def withdraw(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.plan_here(request.ground, public_id)
    services.withdraw_plan(
        found, reason=request.POST.get("reason", ""), by=request.person,
        once=request.POST.get("once", "")[:40],
    )  # fmt: skip
    messages.success(request, _("The plan is withdrawn."))
    return redirect("plans:plan", found.public_id)


def approve(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.plan_here(request.ground, public_id)
    form = ApprovalForm(
        sent(request), request=request, on=found,
        initial={"shown_hash": found.version.content_hash},
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: services.approve_plan(
                found, meaning=given["meaning"], shown_hash=given["shown_hash"],
                by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(request, _("Approved and frozen as it stands."))
            return redirect(receipt_address(form.act, found, request.person))
    return render(
        request, "plans/approve.html", _deciding(request, found, form), status=form.status
    )


def send_back(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.plan_here(request.ground, public_id)
    form = ReasonForm(sent(request), initial={"shown_hash": found.version.content_hash})
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: services.send_back_plan(
                found, reason=given["reason"], shown_hash=given["shown_hash"], by=request.person,
                once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(request, _("Sent back with your reason."))
            return redirect("plans:plan", found.public_id)
    context = _deciding(request, found, form)
    return render(request, "plans/send_back.html", context, status=form.status)


def _deciding(request: GroundRequest, found: Any, form: Any) -> dict[str, Any]:
    content = content_of(found.version)
    judgement, _stored = _judgement(request, found, content)
    return {
        "plan": found,
        "version": found.version,
        "content": content,
        "form": form,
        "judgement": judgement,
        "wrote_it": request.person.pk in selectors.authors_of(found),
        "stale": isinstance(form.refused, StaleVersion),
        "drawing": _drawing(content),
    }


def to_issue(request: GroundRequest) -> HttpResponse:
    waiting = selectors.plans_to_issue(request.ground)
    return render(request, "plans/to_issue.html", {"plans": waiting})


def issue(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.plan_here(request.ground, public_id)
    services.refuse_state(found, "issue")
    handouts = selectors.suggested_handouts(found.version)
    departs = bool(passed_over(request.ground, handouts))
    form = IssueForm(sent(request), handouts=handouts, departs=departs)
    if request.method == "POST" and form.is_valid():
        form.carry_out(
            lambda: services.issue_charge(
                found, form.chosen(), why_younger=form.cleaned_data["why_younger"],
                by=request.person, once=form.cleaned_data["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(request, _("Issued. The boards are out of the store."))
            return redirect("plans:plan", found.public_id)
    context = {"form": form, "plan": found, "version": found.version}
    return render(request, "plans/issue.html", context, status=form.status)
