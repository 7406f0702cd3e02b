"""The week in one's own calendar: a private address, made and stopped by its person."""

from __future__ import annotations

from django.contrib import messages
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import get_language
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_http_methods, require_safe

from batches.models import Person
from batches.services.calendars import (
    LOOK_DAYS,
    READY_DAYS,
    address_of_person,
    calendar_behind,
    feed_of,
    make_address,
    revoke_address,
)
from batches.views import clock
from batches.views.access import for_anyone, for_hands
from batches.views.noting import note


@for_hands
@never_cache
@sensitive_variables("secret", "address")
@require_http_methods(["GET", "HEAD", "POST"])
def my_calendar(request: HttpRequest) -> HttpResponse:
    """Show whether there is an address; a POST makes a new one, shown once, or stops it."""
    person = request.user
    assert isinstance(person, Person)  # noqa: S101 - for_hands lets nobody else in
    address = ""
    if request.method == "POST":
        if request.POST.get("do") == "stop":
            with transaction.atomic():
                stopped = revoke_address(person=person, now=clock.now())
                note(request, "calendar address stopped", about=person.name)
            words = "The address is stopped; nothing can be read there." if stopped else "None."
            messages.success(request, words)
            return redirect("batches:my-calendar")
        with transaction.atomic():
            secret = make_address(person=person, now=clock.now())
            note(request, "calendar address made", about=person.name)
        address = request.build_absolute_uri(reverse("batches:calendar", args=[secret]))
    context = {
        "address": address,
        "kept": address_of_person(person=person),
        "look_days": LOOK_DAYS,
        "ready_weeks": READY_DAYS // 7,
    }
    return render(request, "batches/calendars/page.html", context)


@for_anyone
@never_cache
@sensitive_variables("secret")
@require_safe
def calendar(request: HttpRequest, secret: str) -> HttpResponse:
    """Give out the calendar behind an address; any other is not found, without a reason."""
    found = calendar_behind(secret=secret, now=clock.now())
    if found is None:
        raise Http404("No calendar is kept at this address.")
    text = feed_of(
        address=found,
        today=clock.today(),
        now=clock.now(),
        url=request.build_absolute_uri(reverse("batches:today")),
        language=get_language() or "",
    )
    answer = HttpResponse(text, content_type="text/calendar; charset=utf-8")
    answer["Content-Disposition"] = 'inline; filename="frondbook.ics"'
    return answer
