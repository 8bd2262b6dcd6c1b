"""Forms of what is recorded at a burn."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from facility.loggers.reading import Understood
from facility.look.forms import ActForm, QuantityField
from facility.refusals import Refused
from facility.sites.models import Sensor
from records.capture import services


class LoggerFileForm(ActForm):
    """A logger's file; once it was read, a choice of sensor for each of its channels."""

    file = forms.FileField(label=gettext_lazy("File"))
    logger = forms.CharField(
        max_length=200, label=gettext_lazy("Logger"),
        widget=forms.TextInput(attrs={"list": "loggers", "autocomplete": "off"}),
        help_text=gettext_lazy("Its channels are remembered by this name."),
    )  # fmt: skip
    ignition_s = QuantityField(
        "s", 1, required=False, label=gettext_lazy("Ignition at second"),
        help_text=gettext_lazy("Of the file's own time; empty for where its clock puts it, or 0."),
    )  # fmt: skip
    other_day = forms.BooleanField(
        required=False,
        label=gettext_lazy("It is of this burn, though its own clock tells another day"),
    )

    def __init__(
        self, *args: Any, sensors: list[Sensor], keeping: bool = False, **options: Any
    ) -> None:
        super().__init__(*args, **options)
        self.keeping = keeping
        self.sensors = {str(sensor.pk): sensor for sensor in sensors}
        self.found: Understood | None = None
        self.content = b""

    def clean_file(self) -> Any:
        """Read the file as far as it can be read; what it holds decides the rest of the form."""
        sent = self.cleaned_data["file"]
        if sent.size > services.MOST_BYTES:
            raise ValidationError(
                _("The file has %(size)s MB; at most %(most)s MB are taken.")
                % {"size": round(sent.size / 1e6), "most": services.MOST_BYTES // 1_000_000}
            )
        self.content = sent.read()
        if self.read_later:
            return sent
        try:
            self.found = services.read_file(self.content, sent.name)
        except Refused as refused:
            raise ValidationError(refused.sentence) from None
        return sent

    @property
    def read_later(self) -> bool:
        """Whether the file is so large that it is read while the answer is drawn."""
        return self.keeping and len(self.content) >= services.SHOWN_FROM

    def chosen(self) -> dict[int, Sensor]:
        """The sensor chosen for each column, by the column's number."""
        given = {}
        for channel in self.found.channels if self.found else ():
            sensor = self.sensors.get(self.data.get(f"sensor_{channel.column}", ""))
            if sensor is not None:
                given[channel.column] = sensor
        return given
