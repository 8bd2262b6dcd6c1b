"""Acts about the log itself: a check of it, its head by mail, a restored backup signed for."""

from __future__ import annotations

from collections.abc import Sequence

from django.conf import settings
from django.core.mail import EmailMessage
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from facility.guarded import opened
from facility.people.models import Person
from facility.refusals import WrongState, text_within
from facility.sites.models import Site
from records.audit.door import door
from records.audit.heads import head_now
from records.audit.models import HeadSent, LogHead, Verification
from records.audit.notes import HeadNote
from records.audit.verifying import Finding, Progress, verify


def check_log(
    heads: Sequence[HeadNote] = (), *, progress: Progress | None = None
) -> tuple[Verification, list[Finding]]:
    """Check the whole log and keep the result. While the newest check failed, nothing is recorded."""
    head = head_now()
    findings = verify(heads, progress=progress)
    made = Verification(
        at=timezone.now(), size=head.size, root=head.root, heads=len(heads),
        findings=len(findings), first=findings[0].sentence if findings else "",
    )  # fmt: skip
    with transaction.atomic(), opened():
        made.save()
        LogHead.objects.update(check_failed=bool(findings))
    return made, findings


def mail_head(recipients: Sequence[str]) -> HeadSent:
    """Send the head as it is now, and keep that it was sent."""
    head = head_now()
    EmailMessage(
        subject=_("Head of the log {origin}: {size} entries").format(
            origin=head.origin, size=head.size
        ),
        body=f"{head.text}\n{_how_it_was_checked()}\n\n{_what_for()}\n",
        from_email=settings.DEFAULT_FROM_EMAIL,
        to=list(recipients),
    ).send()
    sent = HeadSent(at=timezone.now(), size=head.size, root=head.root, recipients=len(recipients))
    with opened():
        sent.save()
    return sent


def _how_it_was_checked() -> str:
    newest = Verification.objects.first()
    if newest is None:
        return _("This log has never been checked.")
    when = f"{newest.at:%Y-%m-%d %H:%M} UTC"
    if newest.findings:
        return _("The check of {when} FAILED: {first}").format(when=when, first=newest.first)
    return _("The check of {when} found nothing wrong.").format(when=when)


def _what_for() -> str:
    return _(
        "Keep this message where whoever runs the program cannot change it. With it, and an export "
        "of the log, checker.py tells whether anything before it was changed."
    )


def sign_restore(site: Site, *, checked: str, by: Person, once: str = "") -> None:
    """Answer for a restored backup; from then on things are recorded again."""
    checked = text_within("checked", checked, 300)
    with door("audit.restore_signed", by=by, site=site, on=site, why=checked, once=once) as entry:
        head = LogHead.objects.select_for_update(no_key=True).get(pk=1)
        if not head.restore_unsigned:
            raise WrongState(_("No restored backup waits to be signed for."))
        entry.changed(entries=head.size)
        LogHead.objects.filter(pk=1).update(restore_unsigned=False)
