"""Keeping a picture. What it shows is told by the act it belongs to; so no door is opened here."""

from __future__ import annotations

import datetime as dt

from facility.guarded import door_is_open
from facility.people.models import Person
from facility.sites.models import Site
from records.pictures.models import Picture, PictureData
from records.pictures.reading import MEDIA_TYPE, Photograph


def keep_picture(site: Site, shot: Photograph, *, by: Person, at: dt.datetime) -> Picture:
    """Keep one picture, behind an open door; ``read_photograph`` makes the photograph.

    Tell ``picture.kept_sha256`` in the act's entry (``picture_sha256=``): the log then stands for
    the bytes as well.
    """
    assert door_is_open()
    picture = Picture(
        site=site, media_type=MEDIA_TYPE, width=shot.width, height=shot.height,
        sent_sha256=shot.sent_sha256, kept_sha256=shot.kept_sha256, recorded_at=at, recorded_by=by,
    )  # fmt: skip
    picture.save()
    PictureData(picture=picture, kept=shot.data).save()
    return picture
