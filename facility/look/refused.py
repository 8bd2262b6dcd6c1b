"""The page that says what was refused, and that nothing was written."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from facility.refusals import Refused


def refusal_page(request: HttpRequest, refused: Refused) -> HttpResponse:
    return render(request, "refused.html", {"refused": refused}, status=refused.status)
