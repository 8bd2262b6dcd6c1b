"""Forms about what the yard sent: a rescue file, a doubt, and the signature under late events."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from facility.look.forms import ActForm
from records.audit.forms import SignatureForm


class RescueForm(ActForm):
    file = forms.FileField(
        label=gettext_lazy("Rescue file"), max_length=200,
        help_text=gettext_lazy("The file that the tablet wrote, its name ends with .jsonl."),
    )  # fmt: skip


class SettleForm(ActForm):
    doubt = forms.CharField(max_length=100, widget=forms.HiddenInput)
    reason = forms.CharField(max_length=1000, label=gettext_lazy("How it is, and how you know"))
    alike = forms.BooleanField(required=False)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["doubt"].widget.attrs["autocomplete"] = "off"


class LateForm(SignatureForm):
    act = "burns.late_events_signed"
    meanings = (
        ("I have read these events and they belong to this burn", gettext_lazy("I have read these events and they belong to this burn")),
    )  # fmt: skip

    reason = forms.CharField(max_length=1000, label=gettext_lazy("Why they came after the close"))

    field_order = ["once", "shown_hash", "reason", "meaning", "password"]
