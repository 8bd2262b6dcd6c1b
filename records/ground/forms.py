"""Forms about the ground and its people."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from facility.look.forms import ActForm, choose_first
from facility.people.permissions import Role


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

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if given.get("role") not in (None, Role.LEARNER) and not given.get("sign_in"):
            self.add_error("sign_in", _("Whoever works here signs in; this is needed."))
        return given


class RoleForm(ActForm):
    role = forms.ChoiceField(choices=_staff_roles, label=gettext_lazy("Role"))
    since = forms.DateField(
        label=gettext_lazy("From"),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    course = forms.CharField(required=False, max_length=200, label=gettext_lazy("Course"))
