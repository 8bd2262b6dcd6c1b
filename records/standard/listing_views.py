"""The page of one item of a draft's check list."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from facility.look.forms import ActForm, choose_first, sent
from facility.people.gate import GroundRequest
from facility.rulebook import selectors as rulebook
from facility.rulebook.checks import ITEM_FIELDS, check_item
from records.standard.listing import write_item


class ItemForm(ActForm):
    code = forms.CharField(
        max_length=100, label=gettext_lazy("Item"), help_text=gettext_lazy("Short, such as B-07.")
    )
    stage = forms.ChoiceField(
        label=gettext_lazy("When it is looked at"),
        choices=lambda: [choose_first(), *rulebook.STAGES],
    )
    text = forms.CharField(
        max_length=500, label=gettext_lazy("What is seen when it is in order"),
        help_text=gettext_lazy("As it is ticked at the unit: Exits clear and doors move freely."),
    )  # fmt: skip
    blocks = forms.BooleanField(
        required=False, initial=True, label=gettext_lazy("no ignition while it is open")
    )
    clause = forms.CharField(max_length=500, label=gettext_lazy("Clause"))
    source = forms.CharField(
        max_length=500, required=False, label=gettext_lazy("Where it was read")
    )
    basis = forms.ChoiceField(
        label=gettext_lazy("Basis"), choices=lambda: [choose_first(), *rulebook.BASES]
    )
    on = forms.BooleanField(required=False, initial=True, label=gettext_lazy("switched on"))

    def __init__(self, *args: Any, item: Any = None, **options: Any) -> None:
        initial = {field: getattr(item, field) for field in ITEM_FIELDS} if item else None
        super().__init__(*args, initial=initial, **options)
        self.item = item
        if item is not None:
            self.fields["code"].widget = forms.HiddenInput()

    def clean(self) -> dict[str, Any]:
        """Every fault of the item beside its field; the service refuses the first of them alike."""
        given = super().clean() or {}
        if not self.errors:
            for fault in check_item(self.values()).faults:
                field = fault.field if fault.field in self.fields else None
                self.add_error(field, f"{fault.given or _('nothing given')}: {fault.sentence}.")
        return given

    def values(self) -> dict[str, Any]:
        code = self.item.code if self.item else self.cleaned_data["code"]
        return {**{field: self.cleaned_data[field] for field in ITEM_FIELDS}, "code": code}


def item_new(request: GroundRequest, public_id: str) -> HttpResponse:
    return _item(request, public_id, None)


def item(request: GroundRequest, public_id: str, code: str) -> HttpResponse:
    return _item(request, public_id, code)


def _item(request: GroundRequest, public_id: str, code: str | None) -> HttpResponse:
    found = rulebook.edition_here(request.ground, public_id)
    old = rulebook.item_here(found, code) if code else None
    form = ItemForm(sent(request), item=old)
    if request.method == "POST" and form.is_valid():
        values, once = form.values(), form.cleaned_data["once"]
        written = form.carry_out(
            lambda: write_item(found, values, by=request.person, once=once, new=old is None)
        )
        if written:
            messages.success(request, _("Item {code} is written.").format(code=written.code))
            return redirect("standard:edition", found.public_id)
    context = {"form": form, "edition": found, "item": old}
    return render(request, "standard/item.html", context, status=form.status)
