"""Forms about the bays of the store."""

from __future__ import annotations

from decimal import Decimal

from django import forms
from django.utils.translation import gettext_lazy

from facility.look.forms import ActForm, LocalDateTimeField, QuantityField, to_decimal


class ClimateForm(ActForm):
    measured_at = LocalDateTimeField(label=gettext_lazy("Measured"))
    temperature_c = forms.CharField(
        max_length=40, label=gettext_lazy("Temperature, °C"),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),  # a keyboard with a minus sign
    )  # fmt: skip
    humidity_pct = QuantityField("%", 1, label=gettext_lazy("Relative humidity"))

    def clean_temperature_c(self) -> Decimal:
        return to_decimal(self.cleaned_data["temperature_c"], "degC", 1)


class ClimateFileForm(ActForm):
    file = forms.FileField(
        label=gettext_lazy("File"), allow_empty_file=True,
        help_text=gettext_lazy(
            "CSV: time, temperature in °C, relative humidity in %, one moment on a line."
        ),
    )  # fmt: skip
