"""The form of a signature, for every page where something is signed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar

from django import forms
from django.utils.translation import gettext_lazy

from facility.look.forms import ActForm
from facility.people.gate import GroundRequest
from facility.refusals import Refused
from records.audit.signing import re_authenticate


class SignatureForm(ActForm):
    """Meaning, password, and the hash of the content that was shown.

    A form for one act names ``act`` and ``meanings``; its view passes the request and the thing
    that is signed, and hands ``meaning`` and ``shown_hash`` to the service.
    """

    act: ClassVar[str]
    meanings: ClassVar[Sequence[tuple[str, Any]]]

    shown_hash = forms.CharField(max_length=64, widget=forms.HiddenInput)
    meaning = forms.ChoiceField(label=gettext_lazy("Your signature means"))
    password = forms.CharField(
        max_length=200, strip=False, label=gettext_lazy("Your password"),
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )  # fmt: skip

    def __init__(self, *args: Any, request: GroundRequest, on: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.request, self.on = request, on
        self.fields["meaning"].choices = list(self.meanings)  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """Ask for the password last: one that signs nothing for another reason is not tried."""
        given = super().clean() or {}
        password = given.pop("password", "")
        if not self.errors:
            self._prove(password)
        return given

    def _prove(self, password: str) -> None:
        who, site = self.request.person, self.request.ground
        try:
            re_authenticate(who, password, act=self.act, site=site, on=self.on)
        except Refused as refused:
            self.refuse(refused)
