"""A refusal that no form took up becomes a page; a form sent twice leads to its first result."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _

from facility.look.refused import refusal_page
from facility.refusals import AlreadyDone, Refused, TooLarge, WrongValue
from records.audit.places import address_of
from records.audit.selectors import made_by_form


def _holds_nul(request: HttpRequest, kwargs: dict[str, str]) -> bool:
    """A NUL, which PostgreSQL cannot take as text; nothing that a person typed."""
    sent = [*request.GET.values(), *request.POST.values(), *kwargs.values()]
    return any("\x00" in str(value) for value in sent)


MOST_SENT = 32 * 1024 * 1024  # bytes of one request: a picture of 15 MB and what stands beside it


def _too_large(sent: int) -> TooLarge:
    return TooLarge(
        _("{given:.0f} MB were sent at once; at most {allowed} MB are taken.").format(
            given=sent / 1024**2, allowed=MOST_SENT // 1024**2
        )
    )


class RefusalMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer what is too large before anything reads it: an upload is spooled to disk whole.

        A request without a length counts as empty, so the length said is the one that is read.
        """
        said = request.META.get("CONTENT_LENGTH") or ""
        if said.isdigit() and int(said) > MOST_SENT:
            return refusal_page(request, _too_large(int(said)))
        return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: Any, args: Any, kwargs: Any
    ) -> HttpResponse | None:
        """Lead a form sent again to its result before anything is checked: what it asked for has
        been done, so that most of it would be refused by now."""
        if _holds_nul(request, kwargs):
            return refusal_page(request, WrongValue(_("A control character cannot be kept.")))
        if request.method != "POST" or not (once := request.POST.get("once")):
            return None
        done = made_by_form(once, getattr(request, "person", None))
        return self.process_exception(request, AlreadyDone(done)) if done else None

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        if isinstance(exception, AlreadyDone) and (address := address_of(exception.obj)):
            messages.info(request, exception.sentence)
            return redirect(address)
        return refusal_page(request, exception) if isinstance(exception, Refused) else None
