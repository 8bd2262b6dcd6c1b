"""Form fields as people type them, and the base form whose refusals name field, value and rule.

Fields only read what was typed; what is allowed is decided by the services alone, so that a
cap holds at every entrance.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.http import HttpRequest, QueryDict
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from facility.calc.units import QuantityRefused, is_bare, parse, pretty_unit
from facility.refusals import AlreadyDone, LimitExceeded, Refused


class QuantityField(forms.CharField):
    """A number with a unit: takes ``18 mm``, ``0,018 m`` or ``18``, gives a Decimal in ``unit``."""

    def __init__(self, unit: str = "", places: int = 2, **options: Any) -> None:
        self.unit, self.places = unit, places
        self.shown: str | None = None  # beside the box, where it is not the unit
        super().__init__(max_length=40, **options)
        self.widget.attrs.update({"inputmode": "decimal", "autocomplete": "off"})

    @property
    def unit_shown(self) -> str:
        return pretty_unit(self.unit) or _("boards") if self.shown is None else self.shown

    def clean(self, value: Any) -> Decimal | None:
        """Check the text as text first (its length, among others), then read it."""
        text = super().clean(value)
        return to_decimal(text, self.unit, self.places) if text else None


def to_decimal(text: str, unit: str, places: int) -> Decimal:
    """Read one typed quantity as a Decimal; more decimals than are kept are refused, not cut.

    A quantity in another unit has decimals of the conversion's making; those are rounded.
    """
    try:
        number = parse(text, unit)
    except QuantityRefused as refused:
        raise ValidationError(str(refused)) from None
    exact = Decimal(f"{number:.9g}")
    if abs(exact) >= 10**9:  # before rounding, which cannot hold a number of any size
        raise ValidationError(_("%(given)s is too large.") % {"given": text})
    kept = round(exact, places)
    converted = not is_bare(text) and not text.strip().endswith((unit, pretty_unit(unit)))
    if not converted and abs(exact - kept) > abs(exact) * Decimal("1e-6"):
        raise ValidationError(
            _("%(given)s has more decimals than the %(places)s that are kept.")
            % {"given": text, "places": places}
        )
    return kept


class LocalDateTimeField(forms.DateTimeField):
    """A time in the ground's own zone."""

    def __init__(self, **options: Any) -> None:
        widget = forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M")
        formats = ["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%d %H:%M"]
        super().__init__(widget=widget, input_formats=formats, **options)


def sent(request: HttpRequest) -> QueryDict | None:
    """What a form is bound to: the fields sent, even when there are none; nothing before that."""
    return request.POST if request.method == "POST" else None


def name_cells(form: forms.Form, row: int, **headings: str) -> None:
    """Name the fields of a table's row, whose headings stand in the column: "Lot, line 2"."""
    for name, heading in headings.items():
        field = form.fields[f"{name}_{row}"]
        field.label = _("{heading}, line {number}").format(heading=heading, number=row + 1)
        field.widget.attrs["aria-label"] = field.label


class ActForm(forms.Form):
    """A form for one act. ``once`` is its key: sent twice, it takes effect once."""

    once = forms.CharField(max_length=40, required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["once"].initial = secrets.token_hex(12)
        self.refused: Refused | None = None

    @property
    def status(self) -> int:
        """The HTTP status of the page that shows this form again."""
        if self.refused is not None:
            return self.refused.status
        return 400 if self.is_bound and self.errors else 200

    @property
    def findings(self) -> tuple[Any, ...]:
        """What the standard refused, when it did."""
        return self.refused.findings if isinstance(self.refused, LimitExceeded) else ()

    def refuse(self, refused: Refused) -> None:
        self.refused = refused
        self.add_error(refused.field if refused.field in self.fields else None, refused.sentence)

    def carry_out[Made](self, verb: Callable[[], Made]) -> Made | None:
        """Call one verb; what it refuses is shown on the form, and what was typed stays."""
        try:
            return verb()
        except AlreadyDone:
            raise
        except Refused as refused:
            self.refuse(refused)
            return None


def choose_first() -> tuple[str, Any]:
    return ("", gettext_lazy("choose"))
