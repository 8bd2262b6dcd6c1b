"""People, and the standard in force."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from facility.look.forms import sent
from facility.people import selectors as people_selectors
from facility.people.gate import GROUND_KEY, GroundRequest
from facility.people.permissions import Role
from records.ground import services
from records.ground.forms import PersonForm, RoleForm


def choose_ground(request: GroundRequest) -> HttpResponse:
    """Only a ground where the person holds a role can be chosen; anything else changes nothing."""
    wanted = request.POST.get("ground")
    if wanted in {each.public_id for each in request.grounds}:
        request.session[GROUND_KEY] = wanted
    return redirect("reports:day_sheet")


def choose_units(request: GroundRequest) -> HttpResponse:
    services.choose_units(request.ground, request.person, system=request.POST.get("units", ""))
    return redirect("reports:day_sheet")


def people(request: GroundRequest) -> HttpResponse:
    today = request.now.astimezone(request.ground.zone).date()
    context = {
        "staff": people_selectors.staff_on(request.ground, today),
        "courses": people_selectors.learners_on(request.ground, today),
        "former": people_selectors.former_on(request.ground, today),
        "today": today,
    }
    return render(request, "ground/people.html", context)


def person_new(request: GroundRequest) -> HttpResponse:
    form = PersonForm(sent(request))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        made = form.carry_out(
            lambda: services.add_person(
                request.ground, name=given["name"], sign_in=given["sign_in"],
                role=Role(given["role"]), course=given["course"],
                since=request.now.astimezone(request.ground.zone).date(), by=request.person,
                once=given["once"],
            )
        )  # fmt: skip
        if made:
            messages.success(request, _("{name} was added.").format(name=made.name))
            learner = given["role"] == Role.LEARNER
            then = "accounts:person" if learner else "accounts:first_password"
            return redirect(then, made.public_id)
    return render(request, "ground/person_new.html", {"form": form}, status=form.status)


def role_new(request: GroundRequest, public_id: str) -> HttpResponse:
    person = people_selectors.person_here(request.ground, public_id)
    today = request.now.astimezone(request.ground.zone).date()
    form = RoleForm(sent(request), initial={"since": today})
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        made = form.carry_out(
            lambda: services.give_role(
                request.ground, person, role=Role(given["role"]), since=given["since"],
                course=given["course"], by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if made:
            messages.success(request, _("The role was given."))
            return redirect("accounts:person", person.public_id)
    context = {"form": form, "person": person}
    return render(request, "ground/role_new.html", context, status=form.status)
