"""Found a ground and its first administrator; the password is asked for, never an argument."""

from __future__ import annotations

import getpass
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from facility.refusals import Refused
from records.ground.services import found_ground


class Command(BaseCommand):
    help = __doc__ or ""

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("name", help="name of the ground")
        parser.add_argument("time_zone", help="such as Europe/London")
        parser.add_argument("admin_name", help="name of the first administrator")
        parser.add_argument("admin_sign_in", help="their sign-in")
        parser.add_argument("--currency", default="", help="of values at cost, such as EUR")

    def handle(self, *args: Any, **options: Any) -> None:
        password = getpass.getpass("Password of the administrator: ")
        if password != getpass.getpass("Once more: "):
            raise CommandError("The two passwords differ; nothing was founded.", returncode=2)
        try:
            site, admin = found_ground(
                name=options["name"], time_zone=options["time_zone"],
                admin_name=options["admin_name"], admin_sign_in=options["admin_sign_in"],
                password=password, currency=options["currency"],
            )  # fmt: skip
        except Refused as refused:
            raise CommandError(refused.sentence, returncode=2) from None
        self.stdout.write(f"{site} is founded; {admin.sign_in} signs in and adds the people.")
