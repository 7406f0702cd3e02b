"""How does a bench tablet get its code?"""

from __future__ import annotations

from typing import Any

from django.core.management.base import CommandParser
from django.db import transaction
from django.utils import timezone

from batches.management.nursery_command import NurseryCommand, noted
from batches.management.served_at import address_of, setup_address
from batches.services import devices


class Command(NurseryCommand):
    help = "Make a code with which one tablet enrols, once, within ten minutes."
    example = 'manage.py enrol_tablet "Mist house"'

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("name", help="what the tablet is called, for example after its house")

    def answer(self, *, name: str, **_: Any) -> dict[str, Any]:
        """Make the code: an address to open, or a code to type, on the tablet."""
        with transaction.atomic():
            made = devices.make_enrolment_code(
                tablet_name=name, made_by="command line", now=timezone.now()
            )
            noted("tablet code made", about=name)
        return {
            "url": address_of("batches:enrol", made.secret),
            "code": made.secret,
            "expires_at": timezone.localtime(made.expires_at),
        }

    def in_words(self, found: dict[str, Any]) -> None:
        if setup := setup_address():
            self.stdout.write(f"A tablet that is new here opens first: {setup}")
        self.stdout.write(
            f"Open on the tablet: {found['url']}\n"
            f"Or type there, under /enrol/: {found['code']}\n"
            f"It works once, until {found['expires_at']:%H:%M}."
        )
