"""Reading pictures."""

from __future__ import annotations

from django.utils.translation import gettext as _

from facility.refusals import NotHere
from facility.sites.models import Site
from records.pictures.models import Picture, PictureData


def picture_here(site: Site, public_id: str) -> Picture:
    """A picture of this ground, without its bytes."""
    found = Picture.objects.filter(site=site, public_id=public_id).first()
    if found is None:
        raise NotHere(f"No picture {public_id} on this ground.")
    return found


def bytes_of(picture: Picture) -> bytes:
    if gone := picture.gone:
        raise NotHere(_("This picture was {words}.").format(words=gone))
    return bytes(PictureData.objects.values_list("kept", flat=True).get(picture=picture))
