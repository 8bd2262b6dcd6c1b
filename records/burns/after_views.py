"""The pages after a burn: what did not go as planned, and the second signature."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from facility.look.forms import ActForm, LocalDateTimeField, choose_first, sent
from facility.people.gate import GroundRequest
from records.audit.forms import SignatureForm
from records.audit.selectors import receipt_address
from records.burns import aftermath, closing, selectors


class RemarkForm(ActForm):
    kind = forms.ChoiceField(
        choices=lambda: [choose_first(), *aftermath.REMARKS], label=gettext_lazy("What it is")
    )
    what = forms.CharField(
        max_length=2000, label=gettext_lazy("What happened"),
        widget=forms.Textarea(attrs={"rows": 3}),
    )  # fmt: skip
    then = forms.CharField(
        max_length=1000, required=False, label=gettext_lazy("Why, or what was done about it"),
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=gettext_lazy("Needed of an injury and of a deviation."),
    )  # fmt: skip
    person = forms.ChoiceField(required=False, label=gettext_lazy("Whom it concerns"))
    happened_at = LocalDateTimeField(label=gettext_lazy("When"))

    def __init__(self, *args: Any, people: list[Any], **options: Any) -> None:
        super().__init__(*args, **options)
        field: Any = self.fields["person"]
        field.choices = [
            ("", "–"),
            *((person.public_id, f"{person.name}, {duties}") for person, duties in people),
        ]


class CountersignForm(SignatureForm):
    act = "burns.burn_countersigned"
    meanings = [
        (closing.COUNTERSIGNS, gettext_lazy("read, and agreed to as it happened")),
    ]


def remark(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.burn_here(request.ground, public_id)
    form = RemarkForm(
        sent(request), people=aftermath.exposed_people(found), initial={"happened_at": request.now}
    )
    if request.method == "POST" and form.is_valid():
        given = dict(form.cleaned_data)
        form.carry_out(lambda: closing.record_remark(found, by=request.person, **given))
        if not form.refused:
            messages.success(request, _("Kept with the burn."))
            return redirect("burns:burn", found.public_id)
    return render(request, "burns/remark.html", {"form": form, "burn": found}, status=form.status)


def countersign(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.burn_here(request.ground, public_id)
    after = aftermath.after(found)
    form = CountersignForm(
        sent(request), request=request, on=found, initial={"shown_hash": after.hash}
    )
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: closing.countersign_burn(
                found, shown_hash=given["shown_hash"], meaning=given["meaning"],
                by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(request, _("Countersigned."))
            return redirect(receipt_address(form.act, found, request.person))
    context = {"form": form, "burn": found, "after": after}
    return render(request, "burns/countersign.html", context, status=form.status)
