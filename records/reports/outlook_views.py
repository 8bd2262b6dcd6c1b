"""The page that says how long the store lasts."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from facility.people.gate import GroundRequest
from facility.refusals import NotHere
from records.reports.outlook import DAYS, outlooks


def outlook(request: GroundRequest) -> HttpResponse:
    """All products in short, and one of them drawn: the one asked for, else the most urgent."""
    found = outlooks(request.ground, request.now)
    wanted = request.GET.get("product", "")
    chosen = next((each for each in found if each.product.public_id == wanted), None)
    if wanted and chosen is None:
        raise NotHere(_("No such product on this ground."))
    context = {"outlooks": found, "chosen": chosen or next(iter(found), None), "days": DAYS}
    return render(request, "reports/outlook.html", context)
