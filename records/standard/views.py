"""The pages of the standard: what is in force, drafting an edition, putting it in force."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from facility.look.forms import sent
from facility.people.gate import GroundRequest, may
from facility.refusals import plain_number
from facility.rulebook import selectors as rulebook
from facility.rulebook.starters import STARTERS, starter_items, starter_rows
from facility.rules.facts import REGISTER
from records.audit.selectors import receipt_address
from records.ground import selectors as ground
from records.standard import services
from records.standard.forms import AdoptForm, ChartForm, EditionForm, ReasonForm, RowForm
from records.standard.selectors import wrote_in
from records.standard.words import SUBJECTS, WINDOWS


def today_of(request: GroundRequest) -> dt.date:
    return request.now.astimezone(request.ground.zone).date()


def standard(request: GroundRequest) -> HttpResponse:
    """What is in force today, and every edition there is."""
    today = today_of(request)
    in_force = rulebook.editions_in_force(request.ground, today)
    context = {
        "in_force": [_shown(each) for each in in_force],
        "editions": [(each, each.state_on(today)) for each in rulebook.editions(request.ground)],
        "may_draft": may(request, "ground.edition_drafted"),
    }
    return render(request, "standard/standard.html", context)


def _shown(edition: Any, show: str = "on") -> dict[str, Any]:
    """An edition with the rows asked for: those switched on, those off, or all."""
    rows = rulebook.rows_of(edition)
    wanted = {"on": [row for row in rows if row.on], "off": [row for row in rows if not row.on]}
    on = len(wanted["on"])
    return {
        "edition": edition,
        "rows": wanted.get(show, rows),
        "show": show,
        "counts": {"on": on, "off": len(rows) - on, "all": len(rows)},
        "charts": rulebook.charts(edition),
        "items": rulebook.items_of(edition),
    }


def facts(request: GroundRequest) -> HttpResponse:
    """Every fact a rule may speak of, by subject."""
    groups = [
        (label, [fact for fact in REGISTER.values() if fact.subject is subject])
        for subject, label in SUBJECTS.items()
    ]
    context = {"groups": groups, "windows": WINDOWS}
    return render(request, "standard/facts.html", context)


def edition_new(request: GroundRequest) -> HttpResponse:
    editions = rulebook.editions(request.ground)
    starters = [(key, title) for key, (_file, title) in STARTERS.items()]
    form = EditionForm(sent(request), editions=editions, starters=starters)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        begin = given["copy_of"]
        made = form.carry_out(
            lambda: services.draft_edition(
                request.ground, code=given["code"], title=given["title"],
                jurisdiction=given["jurisdiction"], copy_of=form.editions.get(begin),
                rows=starter_rows(begin) if begin in STARTERS else (),
                items=starter_items(begin) if begin in STARTERS else (), by=request.person,
                once=given["once"],
            )
        )  # fmt: skip
        if made:
            messages.success(request, _("The draft is there. It judges nothing until another person puts it in force."))  # fmt: skip
            return redirect("standard:edition", made.public_id)
    return render(request, "standard/edition_new.html", {"form": form}, status=form.status)


def edition(request: GroundRequest, public_id: str) -> HttpResponse:
    found = rulebook.edition_here(request.ground, public_id)
    today = today_of(request)
    state = found.state_on(today)
    shown = _shown(found, request.GET.get("show", "on"))
    charted = {chart.unit_id for chart in shown["charts"]}
    context = {
        **shown,
        "state": state,
        "tabs": [
            ("on", _("{n} switched on").format(n=shown["counts"]["on"])),
            ("off", _("{n} switched off").format(n=shown["counts"]["off"])),
            ("all", _("all {n}").format(n=shown["counts"]["all"])),
        ],
        "before": rulebook.edition_before(found, today),
        "uncharted": [unit for unit in ground.units_of(request.ground) if unit.pk not in charted],
        "undecided": [row for row in rulebook.rows_of(found, only_on=True) if row.is_undecided],
        "may_change": state == "draft" and may(request, "ground.row_written"),
        "may_adopt": state == "proposed" and may(request, "ground.edition_adopted"),
        "may_give_back": state == "proposed" and may(request, "ground.edition_returned"),
        "wrote_it": wrote_in(found, request.person),
    }
    return render(request, "standard/edition.html", context)


def row_new(request: GroundRequest, public_id: str) -> HttpResponse:
    return _row(request, public_id, None)


def row(request: GroundRequest, public_id: str, code: str) -> HttpResponse:
    return _row(request, public_id, code)


def _row(request: GroundRequest, public_id: str, code: str | None) -> HttpResponse:
    found = rulebook.edition_here(request.ground, public_id)
    old = rulebook.row_here(found, code) if code else None
    form = RowForm(sent(request), row=old)
    if request.method == "POST" and form.is_valid():
        values = form.values()
        written = form.carry_out(
            lambda: services.write_row(
                found, values, by=request.person, once=form.cleaned_data["once"], new=old is None
            )
        )
        if written:
            messages.success(request, _("Row {code} is written.").format(code=written.code))
            return redirect("standard:edition", found.public_id)
    context = {"form": form, "edition": found, "row": old}
    return render(request, "standard/row.html", context, status=form.status)


def chart(request: GroundRequest, public_id: str, unit: str) -> HttpResponse:
    found = rulebook.edition_here(request.ground, public_id)
    where = ground.unit_here(request.ground, unit)
    old = rulebook.charts_for([found], where).get(found.pk)
    form = ChartForm(sent(request), initial=_of_chart(old))
    if request.method == "POST" and form.is_valid():
        given = dict(form.cleaned_data)
        caps, once = given.pop("caps"), given.pop("once")
        written = form.carry_out(
            lambda: services.write_chart(
                found, where, caps_dry_kg=caps, by=request.person, once=once, **given
            )
        )
        if written:
            messages.success(request, _("The chart of {unit} is written.").format(unit=where))
            return redirect("standard:edition", found.public_id)
    context = {"form": form, "edition": found, "unit": where}
    return render(request, "standard/chart.html", context, status=form.status)


def _of_chart(old: Any) -> dict[str, Any] | None:
    if old is None:
        return None
    caps = [plain_number(step.cap_dry_kg) for step in old.steps.all() if not step.dropped]
    names = ("burns_before_cooling", "cooling_min", "wait_min", "trial_on", "trial_note")
    return {"caps": " ".join(caps), **{name: getattr(old, name) for name in names}}


def propose(request: GroundRequest, public_id: str) -> HttpResponse:
    found = rulebook.edition_here(request.ground, public_id)
    services.propose_edition(found, by=request.person, once=request.POST.get("once", "")[:40])
    messages.success(request, _("Proposed. A burn manager who wrote nothing in it decides."))
    return redirect("standard:edition", found.public_id)


def give_back(request: GroundRequest, public_id: str) -> HttpResponse:
    return _with_reason(
        request, public_id, services.return_edition, _("Give the edition back"),
        _("It is a draft again; its authors see your reason in the log."),
    )  # fmt: skip


def withdraw(request: GroundRequest, public_id: str) -> HttpResponse:
    return _with_reason(
        request, public_id, services.withdraw_edition, _("Withdraw the draft"),
        _("The draft is withdrawn; it stays to be read."),
    )  # fmt: skip


def _with_reason(
    request: GroundRequest, public_id: str, verb: Callable[..., None], title: str, done: str
) -> HttpResponse:
    found = rulebook.edition_here(request.ground, public_id)
    form = ReasonForm(sent(request))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: verb(found, reason=given["reason"], by=request.person, once=given["once"])
        )
        if not form.refused:
            messages.success(request, done)
            return redirect("standard:edition", found.public_id)
    context = {"form": form, "edition": found, "title": title}
    return render(request, "standard/reason.html", context, status=form.status)


def adopt(request: GroundRequest, public_id: str) -> HttpResponse:
    found = rulebook.edition_here(request.ground, public_id)
    tomorrow = today_of(request) + dt.timedelta(days=1)
    form = AdoptForm(
        sent(request), request=request, on=found,
        initial={"shown_hash": rulebook.fingerprint(found), "in_force_from": tomorrow},
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: services.adopt_edition(
                found, in_force_from=given["in_force_from"], meaning=given["meaning"],
                shown_hash=given["shown_hash"], by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(request, _("The edition is put in force."))
            return redirect(receipt_address(form.act, found, request.person))
    context: dict[str, Any] = {
        "form": form,
        "edition": found,
        "before": rulebook.edition_before(found, today_of(request)),
        "undecided": [each for each in rulebook.rows_of(found, only_on=True) if each.is_undecided],
        "wrote_it": wrote_in(found, request.person),
    }
    return render(request, "standard/adopt.html", context, status=form.status)
