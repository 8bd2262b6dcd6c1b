"""A refusal that no form took up becomes a page; a form sent twice leads to its first result."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from facility.look.refused import refusal_page
from facility.refusals import AlreadyDone, Refused
from records.audit.places import address_of


class RefusalMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        if isinstance(exception, AlreadyDone) and (address := address_of(exception.obj)):
            messages.info(request, exception.sentence)
            return redirect(address)
        return refusal_page(request, exception) if isinstance(exception, Refused) else None
