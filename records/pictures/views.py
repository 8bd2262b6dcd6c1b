"""Showing a picture."""

from __future__ import annotations

from django.http import HttpResponse, HttpResponseNotModified

from facility.people.gate import GroundRequest
from records.pictures import selectors


def picture(request: GroundRequest, public_id: str) -> HttpResponse:
    """The bytes, to be asked for anew each time: on a shared tablet the next person may be
    somebody who must not see it. When they are still the same, they are not sent again."""
    found = selectors.picture_here(request.ground, public_id)
    mark = f'"{found.kept_sha256}"'
    if request.headers.get("If-None-Match") == mark:
        answer: HttpResponse = HttpResponseNotModified()
    else:
        answer = HttpResponse(selectors.bytes_of(found), content_type=found.media_type)
        answer["Content-Disposition"] = f'inline; filename="picture-{found.public_id}.jpg"'
    answer["ETag"] = mark
    answer["Cache-Control"] = "private, no-cache"
    answer["Cross-Origin-Resource-Policy"] = "same-origin"
    return answer
