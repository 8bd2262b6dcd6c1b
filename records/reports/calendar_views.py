"""The service calendar: the page, by week and month, and its feed at a private address."""

from __future__ import annotations

import datetime as dt
import hashlib
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.cache import get_conditional_response
from django.utils.http import quote_etag
from django.utils.translation import gettext as _

from facility.look.forms import ActForm
from facility.people.gate import GroundRequest, may
from records.reports import calendar as selectors
from records.reports import feeds, services

NEW_ADDRESS = "private calendar address"  # in the session, until it was shown once


def calendar(request: GroundRequest) -> HttpResponse:
    today = request.now.astimezone(request.ground.zone).date()
    day = _day(request.GET.get("day", ""), today)
    monthly = request.GET.get("view") == "month"
    context: dict[str, Any] = {
        "monthly": monthly,
        "today": today,
        "address": request.session.pop(NEW_ADDRESS, ""),
        "feed": feeds.live_feed(request.ground, request.person, request.now)
        if may(request, "reports.feed_made")
        else None,
    }
    if monthly:
        first = day.replace(day=1)
        context |= {
            "first": first,
            "weeks": selectors.month_of(request.ground, first, request.now),
            "before": (first - dt.timedelta(days=1)).replace(day=1),
            "after": (first.replace(day=28) + dt.timedelta(days=4)).replace(day=1),
        }
    else:
        monday = day - dt.timedelta(days=day.weekday())
        context |= {
            "first": monday,
            "last": monday + dt.timedelta(days=6),
            "rows": selectors.week_of(request.ground, monday, request.now),
            "before": monday - dt.timedelta(days=7),
            "after": monday + dt.timedelta(days=7),
        }
        context["days"] = [monday + dt.timedelta(days=step) for step in range(7)]
    return render(request, "reports/calendar.html", context)


def _day(text: str, today: dt.date) -> dt.date:
    """The day asked for; today for nonsense, and nothing further off than a century."""
    try:
        day = dt.date.fromisoformat(text)
    except ValueError:
        return today
    return day if abs(day.year - today.year) <= 100 else today


def feed_new(request: GroundRequest) -> HttpResponse:
    form = ActForm(request.POST)
    form.is_valid()
    key = services.make_feed_key(
        request.ground, by=request.person, once=form.cleaned_data.get("once", "")
    )
    address = reverse("reports:feed", args=[key])
    request.session[NEW_ADDRESS] = request.build_absolute_uri(address)
    return redirect("reports:calendar")


def feed_end(request: GroundRequest) -> HttpResponse:
    form = ActForm(request.POST)
    form.is_valid()
    services.end_feed_key(request.ground, by=request.person, once=form.cleaned_data.get("once", ""))
    messages.success(request, _("The private address is ended; whoever has it gets nothing more."))
    return redirect("reports:calendar")


def feed(request: HttpRequest, key: str) -> HttpResponse:
    """The feed, to whoever holds its key; asked again, only when something changed."""
    now: dt.datetime = request.now  # type: ignore[attr-defined]
    body = feeds.feed_of(feeds.ground_of(key, now), now)
    etag = quote_etag(hashlib.sha256(body).hexdigest())
    response = HttpResponse(body, content_type="text/calendar; charset=utf-8")
    response["Content-Disposition"] = 'inline; filename="calendar.ics"'
    response["Cache-Control"] = "private, no-cache"
    response["ETag"] = etag
    answer = get_conditional_response(request, etag=etag, response=response)
    return answer or response
