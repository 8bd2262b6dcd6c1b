"""Send the head of the log by mail, so that it is kept outside. Run it daily.

manage.py mail_head

It goes to the addresses of ``CHARLINE_HEAD_RECIPIENTS``; that it was sent is kept.
"""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from records.audit.services import mail_head


class Command(BaseCommand):
    help = "Send the head of the log by mail, and keep that it was sent."

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.HEAD_RECIPIENTS:
            raise CommandError("Nobody to send to: set CHARLINE_HEAD_RECIPIENTS.", returncode=2)
        try:
            sent = mail_head(settings.HEAD_RECIPIENTS)
        except OSError as error:
            raise CommandError(f"The head was not sent: {error}", returncode=2) from None
        self.stdout.write(f"Sent the head of {sent.size} entries to {sent.recipients} addresses.")
