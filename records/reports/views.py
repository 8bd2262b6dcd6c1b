"""The day sheet, the documents, and the workings behind the figures."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse, JsonResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from facility.calc.register import REGISTER, subjects
from facility.calc.units import alternatives, is_bare
from facility.calc.working import Calculation, CalculationRefused, Input, UnknownInput, Working
from facility.look import charts
from facility.people.gate import GroundRequest
from facility.people.permissions import READS
from facility.refusals import NotHere
from facility.sites.drawing import long_section
from records.audit.heads import inclusion
from records.audit.selectors import last_check, signature_on
from records.burns import aftermath, readiness
from records.burns.selectors import burn_here
from records.burns.timeline import timeline_of
from records.capture.selectors import files_of
from records.plans import selectors as plans
from records.plans.content import content_of
from records.plans.forecast import workings_of
from records.plans.services import judge_as_it_stands
from records.reports import selectors
from records.reports.pdf import pdf_response
from records.reports.plots import plot_of
from records.reports.printing import carried


def day_sheet(request: GroundRequest) -> HttpResponse:
    sheet = selectors.day_sheet(request.ground, request.person, request.now)
    shows_check = bool(request.roles & READS["checks"])
    context = {
        "sheet": sheet,
        "shows_check": shows_check,
        "check": last_check() if shows_check else None,
    }
    return render(request, "reports/day_sheet.html", context)


def _proof(context: dict[str, Any], plan: Any) -> dict[str, Any]:
    """What is signed in the document, proved against the head at its foot."""
    entry = signature_on(plan)
    return {"proof": inclusion(entry, context["head"])} if entry else {}


def plan_pdf(request: GroundRequest, public_id: str) -> HttpResponse:
    plan = plans.plan_here(request.ground, public_id)
    content = content_of(plan.version)
    stored = plans.findings_of(plan.version, "ignite") or plans.findings_of(plan.version, "approve")
    filled = {line.position.public_id: line.product.name for line in content.charge}
    judgement = judge_as_it_stands(plan, at=request.now)
    context = {
        "plan": plan,
        "version": plan.version,
        "content": content,
        "stored": stored,
        "judgement": judgement,
        "workings": workings_of(judgement),
        "versions": plans.versions_of(plan),
        "drawing": long_section(content.unit, filled, printed=True),
        **carried(request),
    }
    context |= _proof(context, plan)
    name = f"plan-{plan.reference}".lower()
    return pdf_response("reports/plan_pdf.html", context, name, request.GET.get("paper", ""))


def burn_pdf(request: GroundRequest, public_id: str) -> HttpResponse:
    burn = burn_here(request.ground, public_id)
    before = readiness.before(burn.version)
    context = {
        "burn": burn,
        "before": before,
        "after": aftermath.after(burn),
        "away": before.away,
        "names_people": bool(request.roles & READS["exposure"]),
        "issues": plans.issued_of(burn.version),
        "files": files_of(burn),
        "timeline": timeline_of(burn),
        "findings": plans.findings_of(burn.version, "ignite"),
        "as_burned": [
            each for each in plans.findings_of(burn.version, "close") if each.verdict != "within"
        ],
        **carried(request),
    }
    context |= _proof(context, burn.version.plan)
    name = f"burn-{burn.reference}".lower()
    return pdf_response("reports/burn_pdf.html", context, name, request.GET.get("paper", ""))


def workings(request: GroundRequest) -> HttpResponse:
    return render(request, "reports/workings.html", {"subjects": subjects()})


def working(request: GroundRequest, name: str) -> HttpResponse:
    """One calculation: as a panel over the page it was asked from, or as a page of its own."""
    calculation = REGISTER.get(name)
    if calculation is None:
        raise NotHere(_("There is no calculation called {name}.").format(name=name))
    given = _typed(request, calculation)
    result, refused = None, None
    if any(given.values()):
        try:
            result = calculation.from_text({key: text for key, text in given.items() if text})
        except CalculationRefused as wrong:
            refused = wrong
    if request.GET.get("as") == "json":
        return _as_json(result, refused)
    chart = plot_of(calculation, result) if result else None
    context = {
        "calculation": calculation,
        "fields": [_field(request, each) for each in calculation.inputs],
        "working": result,
        "refused": refused,
        "formula": charts.formula(calculation.formula),
        "chart": charts.image(chart, calculation.title) if chart else "",
    }
    panel = request.headers.get("HX-Request")
    template = "reports/working_panel.html" if panel else "reports/working.html"
    return render(request, template, context, status=400 if refused else 200)


def _as_json(result: Working | None, refused: CalculationRefused | None) -> JsonResponse:
    """The same working for a program: its stable shape, or what was refused and why."""
    if result is not None:
        return JsonResponse(result.as_dict())
    wrong = refused or UnknownInput("inputs", "nothing", "give each input with its unit")
    answer = {"refused": wrong.name, "given": str(wrong.given), "allowed": wrong.allowed}
    return JsonResponse(answer, status=400)


def _typed(request: GroundRequest, calculation: Calculation) -> dict[str, str]:
    """What was typed for each input, with the unit chosen beside it when it carries none."""
    return {
        each.name: _with_unit(
            request.GET.get(each.name, "").strip(), request.GET.get(f"{each.name}_unit", "")
        )
        for each in calculation.inputs
    }


def _with_unit(text: str, unit: str) -> str:
    return f"{text} {unit}" if text and unit and is_bare(text.split()[-1]) else text


def _field(request: GroundRequest, each: Input) -> dict[str, Any]:
    """One input as the page shows it: what was typed, and the units to choose from."""
    return {
        "input": each,
        "value": request.GET.get(each.name, ""),
        "unit": request.GET.get(f"{each.name}_unit", ""),
        "units": alternatives(each.unit) if each.unit else (),
    }
