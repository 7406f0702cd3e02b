"""Somebody logged a look behind a door that was shut: is it stored, and what are they told?

What happened at the bench is a fact and is stored; that nobody should have been there is told.
"""

from __future__ import annotations

from datetime import datetime

from django.contrib import messages
from django.http import HttpRequest
from django.utils import timezone

from batches.models import Tray
from batches.services.days import day_words, local_day
from batches.services.shut_places import shut_places


def warn_of_shut(request: HttpRequest, tray: Tray, *, at: datetime) -> None:
    """Warn when the tray stood behind a shut door at that moment; say nothing otherwise."""
    door = shut_places(on=local_day(at), now=at).of(tray)
    if door is None:
        return
    until = timezone.localtime(door.until)
    messages.warning(
        request,
        f"The look is stored, but {door.code} is shut after {door.product} until "
        f"{day_words(until.date())}, {until:%H:%M}: whoever was in there should not have been. "
        "The label's re-entry time holds.",
    )
