"""Forms about the ground and its people."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth import authenticate
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from facility.look.forms import ActForm, choose_first
from facility.people.models import Person
from facility.people.permissions import Role


class SignInForm(forms.Form):
    sign_in = forms.CharField(
        max_length=40,
        label=gettext_lazy("Sign-in"),
        widget=forms.TextInput(attrs={"autofocus": True, "autocomplete": "username"}),
    )
    password = forms.CharField(
        max_length=200,
        strip=False,
        label=gettext_lazy("Password"),
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )

    def __init__(self, request: Any, *args: Any, **options: Any) -> None:
        self.request = request
        super().__init__(*args, **options)

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if "sign_in" in given and "password" in given:
            found = authenticate(
                self.request, username=given["sign_in"], password=given["password"]
            )
            if not isinstance(found, Person):
                raise ValidationError(_("Sign-in and password do not match an account."))
            self.person: Person = found
        return given


def _staff_roles() -> list[Any]:
    return [choose_first(), *Role.choices]


class PersonForm(ActForm):
    name = forms.CharField(max_length=200, label=gettext_lazy("Name"))
    role = forms.ChoiceField(choices=_staff_roles, label=gettext_lazy("Role"))
    course = forms.CharField(
        required=False, max_length=200, label=gettext_lazy("Course"),
        help_text=gettext_lazy("For learners."),
    )  # fmt: skip
    sign_in = forms.CharField(
        required=False, max_length=200, label=gettext_lazy("Sign-in"),
        help_text=gettext_lazy("Learners have none."),
    )  # fmt: skip
    password = forms.CharField(
        required=False, max_length=200, strip=False, label=gettext_lazy("First password"),
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        help_text=gettext_lazy("At least 15 characters; several plain words do well."),
    )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if given.get("role") and given["role"] != Role.LEARNER:
            for name in ("sign_in", "password"):
                if not given.get(name):
                    self.add_error(name, _("Whoever works here signs in; this is needed."))
        return given


class RoleForm(ActForm):
    role = forms.ChoiceField(choices=_staff_roles, label=gettext_lazy("Role"))
    since = forms.DateField(
        label=gettext_lazy("From"),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    course = forms.CharField(required=False, max_length=200, label=gettext_lazy("Course"))
