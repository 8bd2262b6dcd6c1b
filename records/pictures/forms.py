"""The field for a picture, taken with the phone's own camera or chosen from its files."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy

from facility.refusals import Refused
from records.pictures.reading import Photograph, read_photograph, refuse_larger


class PictureField(forms.FileField):
    """Takes a file and gives a ``Photograph``, or None when none was sent.

    The form is bound to ``request.FILES`` too, and its page sends ``multipart/form-data``.
    """

    def __init__(self, **options: Any) -> None:
        help_text = gettext_lazy(
            "JPEG, PNG or WebP, at most 15 MB. Where it was taken is not kept."
        )
        super().__init__(**{"help_text": help_text, "allow_empty_file": True, **options})
        self.widget = forms.FileInput()
        self.widget.attrs.update({"accept": "image/*", "capture": "environment"})
        self.widget.is_required = self.required

    def clean(self, data: Any, initial: Any = None) -> Photograph | None:
        sent = super().clean(data, initial)
        if not sent:
            return None
        try:
            refuse_larger(sent.size, "picture")
            return read_photograph(sent.read())
        except Refused as refused:
            raise ValidationError(refused.sentence) from None
