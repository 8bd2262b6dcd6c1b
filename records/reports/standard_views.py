"""What an edition says of plans still open and of burns long past."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from facility.look import charts
from facility.people.gate import GroundRequest
from facility.rulebook.selectors import edition_here
from records.plans import rejudging
from records.reports.forms import PeriodForm


def open_plans(request: GroundRequest, public_id: str) -> HttpResponse:
    """The plans still ahead as the edition would judge them; a part of the edition's page too."""
    edition = edition_here(request.ground, public_id)
    found = rejudging.open_plans(request.ground, edition, request.now)
    part = request.headers.get("HX-Request") == "true"
    template = "reports/open_plans_part.html" if part else "reports/open_plans.html"
    return render(request, template, {"edition": edition, "found": found})


def rejudge(request: GroundRequest, public_id: str) -> HttpResponse:
    """The burns of a period under the edition: what it would have refused."""
    edition = edition_here(request.ground, public_id)
    form = PeriodForm(request.GET or None)
    first, last = form.period(request.now.astimezone(request.ground.zone).date())
    found = rejudging.rejudge(request.ground, [edition], first, last)
    context = {
        "edition": edition, "form": form, "first": first, "last": last, "found": found,
        "by_row": found.by_row.most_common(), "chart": _chart(found),
    }  # fmt: skip
    return render(request, "reports/rejudged.html", context)


def _chart(found: rejudging.Rejudged) -> str:
    """Burns and refusals by month; nothing to draw before two months have burns."""
    months = sorted(found.by_month)
    if len(months) < 2:
        return ""
    x = tuple(float(number) for number, _month in enumerate(months, start=1))
    burns, refused = zip(*(found.by_month[month] for month in months), strict=True)
    chart = charts.Chart(
        (
            charts.Curve(x, tuple(map(float, burns)), _("burns"), colour=charts.STEEL),
            charts.Curve(x, tuple(map(float, refused)), _("refused by it")),
        ),
        _("month, from {first} to {last}").format(first=months[0], last=months[-1]),
        _("burns a month"),
    )
    words = _("{burns} burns, {refused} of them refused").format(
        burns=found.burns, refused=found.refused
    )
    return charts.image(chart, words)
