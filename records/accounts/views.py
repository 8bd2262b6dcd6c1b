"""The pages of accounts: signing in, one's own account, and those that an administrator keeps."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any, cast

from django.contrib import messages
from django.contrib.auth import logout, update_session_auth_hash
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.http import urlencode
from django.utils.translation import gettext as _

from facility.look.forms import ActForm, sent
from facility.people import matrix, throttle, totp
from facility.people import selectors as people
from facility.people.gate import GroundRequest
from facility.people.models import Person
from facility.people.permissions import Role
from facility.people.sitting import watched_at_sign_in
from facility.refusals import Refused
from records.accounts import second_factor, selectors, services, signing_in, tablets
from records.accounts.forms import (
    CodeForm,
    CompetenceForm,
    FactorOffForm,
    FactorOnForm,
    MyPasswordForm,
    RoleEndForm,
    SignInForm,
    WhyForm,
)
from records.accounts.letting_in import let_in
from records.ground import services as ground

HALF_WAY = "half way in"  # who proved a password and owes a code, and since when
HALF_WAY_LASTS_S = 300
CODES = "recovery codes"


def sign_in(request: HttpRequest) -> HttpResponse:
    form = SignInForm(sent(request))
    now = cast(GroundRequest, request).now
    if request.method == "POST" and form.is_valid():
        name = form.cleaned_data["sign_in"]
        found = form.carry_out(
            lambda: signing_in.prove_password(
                name, form.cleaned_data["password"],
                watches=watched_at_sign_in(request, name), at=now,
            )
        )  # fmt: skip
        if found and signing_in.needs_code(found):
            request.session[HALF_WAY] = [found.public_id, int(now.timestamp())]
            wanted = urlencode({"next": request.GET.get("next", "")})
            return redirect(f"{_code_page()}?{wanted}")
        if found:
            signing_in.note_sign_in(found, at=now)
            return _let_in(request, found)
    return _sign_in_page(request, "accounts/sign_in.html", form)


def _code_page() -> str:
    return str(redirect("accounts:sign_in_code").headers["Location"])


def sign_in_code(request: HttpRequest) -> HttpResponse:
    """The second step; whoever has not done the first, or long ago, starts again."""
    now = cast(GroundRequest, request).now
    public_id, since = request.session.get(HALF_WAY, ["", 0])
    found = people.account_to_sign_in(public_id)
    if found is None or now.timestamp() - since > HALF_WAY_LASTS_S:
        return redirect("accounts:sign_in")
    form = CodeForm(sent(request))
    if request.method == "POST" and form.is_valid():
        code = form.cleaned_data["code"]
        form.carry_out(lambda: signing_in.prove_code(found, code, at=now))
        if not form.refused:
            return _let_in(request, found)
    return _sign_in_page(request, "accounts/sign_in_code.html", form)


def _sign_in_page(request: HttpRequest, template: str, form: ActForm) -> HttpResponse:
    response = render(request, template, {"form": form}, status=form.status)
    wait = getattr(form.refused, "wait_s", 0)
    if wait:
        response.headers["Retry-After"] = str(wait)
    return response


def _let_in(request: HttpRequest, person: Person) -> HttpResponse:
    """On a tablet the password also takes back wrong personal codes."""
    device = cast(GroundRequest, request).tablet
    if device is not None:
        throttle.forget([tablets.watched(device, person)])
    return let_in(request, person)


def sign_out(request: HttpRequest) -> HttpResponse:
    logout(request)
    return redirect("accounts:lock" if cast(GroundRequest, request).tablet else "accounts:sign_in")


def me(request: GroundRequest) -> HttpResponse:
    context = {
        "account": selectors.account_of(request.ground, request.person, _today(request)),
        "second_factor": people.has_second_factor(request.person),
        "codes_left": people.recovery_codes_left(request.person),
        "personal_code": people.has_personal_code(request.person),
    }
    return render(request, "accounts/me.html", context)


def my_password(request: GroundRequest) -> HttpResponse:
    form = MyPasswordForm(sent(request))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        _carry_out(
            form,
            lambda: services.change_password(
                request.ground, request.person, old=given["old"], new=given["new"],
                once=given["once"],
            ),
            password="old",
        )  # fmt: skip
        if not form.refused:
            update_session_auth_hash(request, request.person)
            messages.success(
                request, _("Your password is changed. You are signed out everywhere else.")
            )
            return redirect("accounts:me")
    return render(request, "accounts/my_password.html", {"form": form}, status=form.status)


def _carry_out(form: ActForm, verb: Callable[[], Any], *, password: str) -> None:
    """Call one verb; what it says of the password is shown at the field that took it."""

    def renamed() -> Any:
        try:
            return verb()
        except Refused as refused:
            refused.field = password if refused.field == "password" else refused.field
            raise

    form.carry_out(renamed)


def my_sessions(request: GroundRequest) -> HttpResponse:
    services.end_sessions(request.ground, request.person, once=request.POST.get("once", "")[:40])
    return sign_out(request)


def factor_on(request: GroundRequest) -> HttpResponse:
    if people.has_second_factor(request.person):
        return redirect("accounts:me")
    form = FactorOnForm(sent(request), initial={"sealed": second_factor.offer(request.person)})
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        codes = form.carry_out(
            lambda: second_factor.switch_on(
                request.ground, request.person, sealed=given["sealed"], code=given["code"],
                at=request.now, once=given["once"],
            )
        )  # fmt: skip
        if codes:
            request.session[CODES] = codes
            return redirect("accounts:recovery_codes")
    context = {"form": form, **_key_shown(request, str(form["sealed"].value() or ""))}
    return render(request, "accounts/factor_on.html", context, status=form.status)


def _key_shown(request: GroundRequest, sealed: str) -> dict[str, str]:
    """The key as the phone takes it: typed, or by a link on the phone itself."""
    try:
        seed = second_factor.seed_offered(request.person, sealed)
    except Refused:
        return {}
    key = totp.as_text(second_factor.key_of(seed))
    told = urlencode({"secret": key, "issuer": "Charline"})
    groups = " ".join(key[at : at + 4] for at in range(0, len(key), 4))
    return {"key": groups, "link": f"otpauth://totp/Charline:{request.person.sign_in}?{told}"}


def recovery_codes(request: GroundRequest) -> HttpResponse:
    """Shown once: they are kept as hashes only."""
    codes = request.session.pop(CODES, [])
    return render(request, "accounts/recovery_codes.html", {"codes": codes})


def factor_off(request: GroundRequest) -> HttpResponse:
    form = FactorOffForm(sent(request))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: second_factor.switch_off(
                request.ground, request.person, password=given["password"], once=given["once"]
            )
        )
        if not form.refused:
            messages.success(request, _("Your second factor is switched off."))
            return redirect("accounts:me")
    return render(request, "accounts/factor_off.html", {"form": form}, status=form.status)


def permissions(request: GroundRequest) -> HttpResponse:
    context = {
        "roles": [role.label for role in matrix.ROLES],
        "tables": [(_("Acts"), matrix.acts()), (_("Pages"), matrix.addresses())],
    }
    return render(request, "accounts/permissions.html", context)


def _today(request: GroundRequest) -> dt.date:
    return request.now.astimezone(request.ground.zone).date()


def person(request: GroundRequest, public_id: str) -> HttpResponse:
    found = people.person_here(request.ground, public_id)
    account = selectors.account_of(request.ground, found, _today(request))
    context = {"account": account, "person": found, "today": _today(request)}
    return render(request, "accounts/person.html", context)


def role_end(request: GroundRequest, public_id: str) -> HttpResponse:
    found = people.person_here(request.ground, public_id)
    held = people.roles_held(request.ground, found, _today(request))
    form = RoleEndForm(sent(request), held=[row.role for row in held])
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: services.end_role(
                request.ground, found, role=Role(given["role"]), last_day=given["last_day"],
                by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            return _done(request, found, _("The role ends."))
    return _page(request, "accounts/role_end.html", form, found)


def disable(request: GroundRequest, public_id: str) -> HttpResponse:
    done = _("Switched off; every open page of theirs has ended.")
    return _switched(request, public_id, services.disable_person, "accounts/disable.html", done)


def enable(request: GroundRequest, public_id: str) -> HttpResponse:
    done = _("Switched on again.")
    return _switched(request, public_id, services.enable_person, "accounts/enable.html", done)


def _switched(
    request: GroundRequest, public_id: str, verb: Callable[..., Any], template: str, done: str
) -> HttpResponse:
    """Switch an account off or on, with the reason."""
    found = people.person_here(request.ground, public_id)
    form = WhyForm(sent(request))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: verb(
                request.ground, found, reason=given["reason"], by=request.person,
                once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            return _done(request, found, done)
    return _page(request, template, form, found)


def competence_new(request: GroundRequest, public_id: str) -> HttpResponse:
    found = people.person_here(request.ground, public_id)
    form = CompetenceForm(sent(request))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: ground.record_competence(
                request.ground, found, kind=given["kind"], issued_on=given["issued_on"],
                expires_on=given["expires_on"], by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            return _done(request, found, _("The qualification is recorded."))
    return _page(request, "accounts/competence_new.html", form, found)


def _done(request: GroundRequest, found: Person, said: str) -> HttpResponse:
    messages.success(request, said)
    return redirect("accounts:person", found.public_id)


def _page(request: GroundRequest, template: str, form: ActForm, found: Person) -> HttpResponse:
    context = {"form": form, "person": found, "oneself": found == request.person}
    return render(request, template, context, status=form.status)
