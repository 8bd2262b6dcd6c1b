"""A head typed in, and the forms of what is signed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from facility.look.forms import ActForm
from facility.people.entrance import entrance
from facility.people.gate import GroundRequest
from facility.refusals import Refused
from records.audit.notes import HeadNote, NotANote, read_note
from records.audit.signing import code_refused, re_authenticate


class HeadForm(forms.Form):
    """A head note as it stands on paper: origin, number of entries, root."""

    note = forms.CharField(
        max_length=1000, label=gettext_lazy("Head note"),
        widget=forms.Textarea(attrs={"rows": 4, "spellcheck": "false", "autocapitalize": "off"}),
        help_text=gettext_lazy("Three lines: origin, number of entries, root. Lines after them do not matter."),
    )  # fmt: skip

    def clean_note(self) -> HeadNote:
        lines = [line.strip() for line in self.cleaned_data["note"].splitlines()]
        try:
            return read_note("\n".join(lines))
        except NotANote:
            raise ValidationError(
                _("This is no head note: its lines are origin, number of entries, root in base64.")
            ) from None


class PasswordForm(ActForm):
    """A form for one act that asks for the password again. Its view passes the request and the
    thing the act is on."""

    act: ClassVar[str]

    password = forms.CharField(
        max_length=200, strip=False, label=gettext_lazy("Your password"),
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )  # fmt: skip

    def __init__(self, *args: Any, request: GroundRequest, on: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.request, self.on = request, on

    def clean(self) -> dict[str, Any]:
        """Ask for the password last: one that signs nothing for another reason is not tried."""
        given = super().clean() or {}
        password = given.pop("password", "")
        if not self.errors:
            self._prove(password)
        elif not password and entrance().by_code:
            self._refuse_code()
        return given

    def _refuse_code(self) -> None:
        """Six digits sign nothing; that it was tried is kept."""
        who, site = self.request.person, self.request.ground
        self.refuse(code_refused(who, act=self.act, site=site, on=self.on))

    def _prove(self, password: str) -> None:
        who, site = self.request.person, self.request.ground
        try:
            re_authenticate(who, password, act=self.act, site=site, on=self.on)
        except Refused as refused:
            self.refuse(refused)


class SignatureForm(PasswordForm):
    """Meaning, password, and the hash of the content that was shown.

    A form for one act names ``act`` and ``meanings``; its view hands ``meaning`` and
    ``shown_hash`` to the service.
    """

    meanings: ClassVar[Sequence[tuple[str, Any]]]

    shown_hash = forms.CharField(max_length=64, widget=forms.HiddenInput)
    meaning = forms.ChoiceField(label=gettext_lazy("Your signature means"))

    field_order = ["once", "shown_hash", "meaning", "password"]

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["meaning"].choices = list(self.meanings)  # type: ignore[attr-defined]


class RestoreForm(PasswordForm):
    act = "audit.restore_signed"

    checked = forms.CharField(
        max_length=1000, label=gettext_lazy("What you compared it with"),
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=gettext_lazy("Such as the newest printed or mailed head, and what was lost since the backup."),
    )  # fmt: skip

    field_order = ["once", "checked", "password"]
