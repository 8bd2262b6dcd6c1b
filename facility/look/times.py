"""Days and times in words, as pages, refusals and prints show them."""

from __future__ import annotations

import datetime as dt

from django.utils import timezone
from django.utils.formats import date_format

DAY, MOMENT = "j M Y", "j M Y, H:i"


def day_in_words(day: dt.date) -> str:
    return date_format(day, DAY)


def moment(when: dt.datetime, zone: dt.tzinfo | None = None) -> str:
    """A time of the zone, else of the ground that the request is about."""
    return date_format(timezone.localtime(when, zone), MOMENT)
