"""How does somebody get in who has no password?"""

from __future__ import annotations

from typing import Any

from django.core.management.base import CommandParser
from django.db import transaction
from django.utils import timezone

from batches.management.nursery_command import NurseryCommand, noted
from batches.management.served_at import address_of
from batches.services import people


class Command(NurseryCommand):
    help = (
        "Make a link that signs a person in once, within a day; the person is added where needed."
    )
    example = 'manage.py signin_link "Maren Holt" --role office'

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("name", help="the person's name")
        parser.add_argument(
            "--role",
            choices=sorted(people.ROLE_WORDS),
            help="what they may do; needed for somebody new, changes the role of somebody known",
        )

    def answer(self, *, name: str, role: str | None, **_: Any) -> dict[str, Any]:
        """Make the link: its address and until when it works."""
        with transaction.atomic():
            person = people.person_in_role(name=name, role=role)
            link = people.make_signin_link(person=person, now=timezone.now())
            noted("sign-in link made", about=f"{person.name}, {person.role}")
        url = address_of("batches:sign-in-link", link.secret)
        return {"url": url, "expires_at": timezone.localtime(link.expires_at)}

    def in_words(self, found: dict[str, Any]) -> None:
        self.stdout.write(
            f"{found['url']}\nIt signs in once, until {found['expires_at']:%a %d %b %Y %H:%M}."
        )
