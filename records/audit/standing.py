"""Whether anything can be recorded, and why not.

A log that failed its newest check, or that came from a backup nobody has answered for yet, is
only read until somebody has looked at it.
"""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest
from django.utils.functional import SimpleLazyObject
from django.utils.translation import gettext as _

from facility.refusals import ReadOnly
from records.audit.models import LogHead

# Whoever reads has to sign in, which is an entry. A restore is signed while it waits, and a
# wrong password under that is kept.
ALWAYS = frozenset({"people.signed_in", "people.sign_in_refused", "people.password_changed"})
SIGNS_RESTORE = "audit.restore_signed"


def refuse_when_closed(act: str, *, check_failed: bool, restore_unsigned: bool) -> None:
    """Raise ``ReadOnly`` for an act that has to wait."""
    if act in ALWAYS or not (check_failed or restore_unsigned):
        return
    if check_failed or act not in (SIGNS_RESTORE, "audit.refused"):
        raise ReadOnly(why_closed(check_failed=check_failed))


def why_closed(*, check_failed: bool) -> str:
    if check_failed:
        return _(
            "The log did not pass its newest check, so nothing is recorded until one passes. "
            "Everything can be read."
        )
    return _(
        "This was restored from a backup. Nothing is recorded until an administrator or burn "
        "manager signs for it. Everything can be read."
    )


def closed_sentence() -> str:
    """Why nothing can be recorded now; empty when everything can."""
    head = LogHead.objects.filter(pk=1).first()
    if head is None or not (head.check_failed or head.restore_unsigned):
        return ""
    return why_closed(check_failed=head.check_failed)


def notice(request: HttpRequest) -> dict[str, Any]:
    """For every page, which says so at its top."""
    return {"closed": SimpleLazyObject(closed_sentence)}
