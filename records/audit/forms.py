"""A head typed in, and the signature under a restored backup."""

from __future__ import annotations

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from facility.look.forms import ActForm
from facility.people.models import Person
from records.audit.notes import HeadNote, NotANote, read_note


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


class RestoreForm(ActForm):
    checked = forms.CharField(
        max_length=1000, label=gettext_lazy("What you compared it with"),
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=gettext_lazy("Such as the newest printed or mailed head, and what was lost since the backup."),
    )  # fmt: skip
    password = forms.CharField(
        max_length=200, strip=False, label=gettext_lazy("Your password"),
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )  # fmt: skip

    def __init__(self, *args: object, person: Person, **options: object) -> None:
        super().__init__(*args, **options)
        self.person = person

    def clean_password(self) -> str:
        if not self.person.check_password(self.cleaned_data["password"]):
            raise ValidationError(_("This is not your password; nothing was signed."))
        return ""
