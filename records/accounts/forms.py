"""Forms about accounts. They read what was typed; the services decide what is allowed."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from facility.look.forms import ActForm, choose_first
from facility.people.permissions import Role
from records.accounts import selectors
from records.audit.forms import PasswordForm


def _password(label: Any, use: str, **options: Any) -> forms.CharField:
    """A password as it is typed or pasted, blanks included."""
    widget = forms.PasswordInput(attrs={"autocomplete": use})
    return forms.CharField(max_length=200, strip=False, label=label, widget=widget, **options)


def _day(label: Any, **options: Any) -> forms.DateField:
    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    return forms.DateField(label=label, widget=widget, **options)


PLAIN_WORDS = gettext_lazy("At least 15 characters; several plain words do well.")


class SignInForm(ActForm):
    sign_in = forms.CharField(
        max_length=40,
        label=gettext_lazy("Sign-in"),
        widget=forms.TextInput(attrs={"autofocus": True, "autocomplete": "username"}),
    )
    password = _password(gettext_lazy("Password"), "current-password")


class CodeForm(ActForm):
    code = forms.CharField(
        max_length=40,
        label=gettext_lazy("Code from your phone, or a recovery code"),
        widget=forms.TextInput(attrs={"autofocus": True, "autocomplete": "one-time-code"}),
    )


class MyPasswordForm(ActForm):
    old = _password(gettext_lazy("Password until now"), "current-password")
    new = _password(gettext_lazy("New password"), "new-password", help_text=PLAIN_WORDS)


class MyCodeForm(PasswordForm):
    act = "people.code_set"

    code = forms.CharField(
        max_length=40, label=gettext_lazy("Six digits"),
        widget=forms.PasswordInput(attrs={"autocomplete": "off", "inputmode": "numeric"}),
        help_text=gettext_lazy("Not 123456, no birthday. They work on the tablets of this ground only."),
    )  # fmt: skip

    field_order = ["once", "code", "password"]


class TabletForm(PasswordForm):
    act = "ground.tablet_enrolled"

    name = forms.CharField(
        max_length=200, label=gettext_lazy("Name of the tablet"),
        help_text=gettext_lazy("Such as: yard 1, red case."),
    )  # fmt: skip

    field_order = ["once", "name", "password"]


class UnlockForm(ActForm):
    code = forms.CharField(
        max_length=40,
        label=gettext_lazy("Your six digits"),
        widget=forms.PasswordInput(
            attrs={"autofocus": True, "autocomplete": "off", "inputmode": "numeric"}
        ),
    )


class FactorOnForm(ActForm):
    sealed = forms.CharField(max_length=400, label=gettext_lazy("Key"), widget=forms.HiddenInput)
    code = forms.CharField(
        max_length=40,
        label=gettext_lazy("The code that the phone shows now"),
        widget=forms.TextInput(attrs={"autocomplete": "one-time-code", "inputmode": "numeric"}),
    )


class FactorOffForm(ActForm):
    password = _password(gettext_lazy("Your password"), "current-password")


class RoleEndForm(ActForm):
    role = forms.ChoiceField(label=gettext_lazy("Role"))
    last_day = _day(
        gettext_lazy("Last day"), required=False,
        help_text=gettext_lazy("Without one the role ends at once."),
    )  # fmt: skip

    def __init__(self, *args: Any, held: Iterable[str], **options: Any) -> None:
        super().__init__(*args, **options)
        roles = [(role, Role(role).label) for role in dict.fromkeys(held)]
        self.fields["role"].choices = [choose_first(), *roles]  # type: ignore[attr-defined]


class WhyForm(ActForm):
    reason = forms.CharField(
        max_length=2000, label=gettext_lazy("Reason"), widget=forms.Textarea(attrs={"rows": 2})
    )


class ChoosePasswordForm(ActForm):
    new = _password(gettext_lazy("New password"), "new-password", help_text=PLAIN_WORDS)
    again = _password(gettext_lazy("The same once more"), "new-password")


class LinkForm(WhyForm):
    phone_lost = forms.BooleanField(
        required=False,
        label=gettext_lazy("The phone is lost: switch the second factor off as well"),
    )


class CompetenceForm(ActForm):
    kind = forms.ChoiceField(
        choices=lambda: [choose_first(), *selectors.COMPETENCES],
        label=gettext_lazy("Qualified as"),
    )
    issued_on = _day(gettext_lazy("Issued"))
    expires_on = _day(gettext_lazy("Ends"))
