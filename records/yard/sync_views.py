"""What the script of the yard page asks: who and what time it is, what to take along, and sending.

All of it is JSON. What is refused is answered with its status and one sentence; nothing of a
refused request is written.
"""

from __future__ import annotations

import functools
import json
from collections.abc import Callable
from typing import Any

from django.http import HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache

from facility.people.gate import GroundRequest
from facility.refusals import Refused, TooLarge, WrongValue
from facility.yard.clock import Reading, Sent
from records.audit.heads import head_now
from records.yard import selectors, services, shell
from records.yard.judging import hash_of

SPEAKS = 1  # how what is sent is laid out; an older page is told so, and keeps what it holds
MOST_BYTES = 2 * 1024 * 1024
MOST_NESTED = 20

View = Callable[[GroundRequest], HttpResponse]


class WrongKind(Refused):
    """It was not sent as JSON."""

    status = 415


class OtherVersion(Refused):
    """The page that sends speaks another version than this server."""

    status = 409


def asked_by_script(view: View) -> View:
    @never_cache
    @functools.wraps(view)
    def answer(request: GroundRequest) -> HttpResponse:
        try:
            return view(request)
        except Refused as refused:
            return JsonResponse(
                {"error": refused.sentence, "field": refused.field}, status=refused.status
            )

    return answer


def now_ms(request: GroundRequest) -> int:
    return int(request.now.timestamp() * 1000)


@asked_by_script
def hello(request: GroundRequest) -> HttpResponse:
    """Who is signed in, what time it is, and what a form of this sitting must carry."""
    device = request.tablet.public_id if request.tablet else ""
    return JsonResponse(
        {
            "csrf": get_token(request),
            "server": now_ms(request),
            "person": request.person.public_id,
            "name": request.person.name,
            "ground": request.ground.public_id,
            "tablet": device,
            "tablet_name": request.tablet.name if request.tablet else "",
            "shell": shell.version(),
            "speaks": SPEAKS,
        }
    )


@asked_by_script
def seat(request: GroundRequest) -> HttpResponse:
    """The person is at this device from now on; says which of its events came last."""
    told = body_of(request, {"device": str})
    device = told["device"]
    _refuse_foreign(request, device)
    services.take_seat(request.ground, device, by=request.person)
    return JsonResponse({"last": selectors.last_of(device)})


def _refuse_foreign(request: GroundRequest, device: str) -> None:
    tablet = request.tablet.public_id if request.tablet else None
    if device != tablet and not device.startswith(selectors.OFFICE):
        raise WrongValue(_("A browser that is no tablet names itself office-…."), field="device")


@asked_by_script
def kit(request: GroundRequest) -> HttpResponse:
    return JsonResponse(selectors.kit_for(request.ground, request.now))


@asked_by_script
def sync(request: GroundRequest) -> HttpResponse:
    """Take a batch of one device, whole or not at all; the reply carries the head of the log."""
    told = body_of(request, {"v": int, "device": str, "now": dict, "shell": str, "events": list})
    if told["v"] != SPEAKS:
        raise OtherVersion(
            _("This page is of another version than the server. Load it again; nothing is lost.")
        )
    services.speaks_for(request.ground, told["device"], request.tablet)
    judged = services.take_events(
        request.ground, told["events"], by=request.person, device=told["device"],
        sent=Sent(_reading(told["now"]), now_ms(request)), at=request.now,
    )  # fmt: skip
    return JsonResponse(
        {
            "results": [
                {"id": each.id, "sha256": hash_of(each), "outcome": str(each.found),
                 "reason": each.reason}
                for each in judged
            ],
            "head": head_now().text,
            "server": now_ms(request),
            "shell": shell.version(),
        }
    )  # fmt: skip


def body_of(request: GroundRequest, parts: dict[str, type]) -> dict[str, Any]:
    """The object that was sent, with exactly these parts."""
    if request.content_type != "application/json":
        raise WrongKind(_("What is sent here must be JSON (application/json)."))
    told = _parsed(request)
    if not isinstance(told, dict):
        raise WrongValue(_("What is sent here must be an object."))
    stray = sorted(set(told) - set(parts))
    if stray:
        raise WrongValue(_("{part} is not known here.").format(part=stray[0][:40]), field=stray[0])
    for name, kind in parts.items():
        value = told.get(name)
        if not isinstance(value, kind) or isinstance(value, bool):
            raise WrongValue(
                _("{part} is missing or of the wrong kind.").format(part=name), field=name
            )
        if isinstance(value, str) and (len(value) > 100 or not value.isprintable()):
            raise WrongValue(
                _("{part} is too long, or cannot be printed.").format(part=name), field=name
            )
    return told


def _parsed(request: GroundRequest) -> Any:
    said = request.META.get("CONTENT_LENGTH") or "0"
    if not said.isdigit() or int(said) > MOST_BYTES:
        raise TooLarge(_("At most 2 MB are taken at once."))
    text = request.body.decode("utf-8", "replace")
    if _nested(text) > MOST_NESTED:
        raise WrongValue(_("It is nested too deeply."))
    try:
        return json.loads(text)
    except (ValueError, RecursionError):
        raise WrongValue(_("This is not JSON.")) from None


def _nested(text: str) -> int:
    """How deep brackets stand in each other; those inside of texts count as well, which at worst
    refuses what nobody sends: events come as texts of their own."""
    deep = deepest = 0
    quoted = escaped = False
    for char in text if len(text) <= 20_000 else text[:20_000]:
        if quoted:
            escaped, quoted = (char == "\\" and not escaped), (char != '"' or escaped)
        elif char == '"':
            quoted = True
        elif char in "[{":
            deep += 1
            deepest = max(deepest, deep)
        elif char in "]}":
            deep -= 1
    return deepest


def _reading(told: dict[str, Any]) -> Reading:
    whole = all(
        isinstance(told.get(name), int) and not isinstance(told[name], bool)
        and 0 <= told[name] < 2**53
        for name in ("wall", "mono")
    )  # fmt: skip
    boot = told.get("boot")
    if not whole or not isinstance(boot, str) or len(boot) > 40 or len(told) != 3:
        raise WrongValue(
            _("The clocks of the device are missing or of the wrong kind."), field="now"
        )
    return Reading(told["wall"], told["mono"], boot)
