"""PINs and badges: how people prove at a bench tablet who they are."""

from __future__ import annotations

from http import HTTPStatus

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.safestring import mark_safe
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters, sensitive_variables
from django.views.decorators.http import require_http_methods

from batches.core.errors import NurseryError
from batches.forms.pin import PinForm
from batches.labels.qr_drawing import qr_image
from batches.models import Person
from batches.services.bench_people import make_badge, set_pin, take_badge_back, take_pin_away
from batches.views.access import for_hands, for_managers
from batches.views.form_page import form_page
from batches.views.noting import note

_SIDE_MM = 40


@for_hands
@never_cache
@sensitive_post_parameters("pin")
@require_http_methods(["GET", "HEAD", "POST"])
def my_pin(request: HttpRequest) -> HttpResponse:
    """Show and take the form with which a person chooses the own PIN."""
    person = request.user
    assert isinstance(person, Person)  # noqa: S101 - for_hands lets nobody else in
    form = PinForm(request.POST or None)
    if request.method == "POST" and _pin_set(request, form, person):
        messages.success(request, "Your PIN is set. It proves your name at the bench tablets.")
        return redirect("batches:my-password")
    lead = "With it you prove at a bench tablet that your name was not tapped by somebody else."
    return form_page(
        request, form, title="Your PIN at the bench", submit="Keep this PIN",
        crumbs=[("Your password", "/my-password/"), ("PIN", "")], lead=lead,
    )  # fmt: skip


@for_managers
@never_cache
@sensitive_variables()
@sensitive_post_parameters("pin")
@require_http_methods(["GET", "POST"])
def badge(request: HttpRequest, pk: int) -> HttpResponse:
    """Show how somebody proves who they are; a POST sets a PIN, makes a badge or takes one away.

    A new badge's card is shown this once, to be printed.
    """
    person = get_object_or_404(Person, pk=pk, is_active=True)
    what = request.POST.get("what", "")
    form = PinForm(request.POST if what == "pin" else None)
    context: dict[str, object] = {"person": person, "form": form}
    if what == "pin" and _pin_set(request, form, person):
        messages.success(request, f"{person.name} has a PIN now.")
        return redirect("batches:person-badge", pk)
    if what == "no-pin":
        with transaction.atomic():
            take_pin_away(person=person)
            note(request, "PIN taken away", about=person.name)
        messages.success(request, f"{person.name} has no PIN any more.")
        return redirect("batches:person-badge", pk)
    if what == "no-badge":
        with transaction.atomic():
            take_badge_back(person=person)
            note(request, "badge made void", about=person.name)
        messages.success(request, f"The badge of {person.name} is void.")
        return redirect("batches:person-badge", pk)
    if what == "badge":
        with transaction.atomic():
            text = make_badge(person=person)
            note(request, "badge made", about=person.name)
        qr = mark_safe(qr_image(text, side_mm=_SIDE_MM))  # noqa: S308 - our own drawing
        context |= {"qr": qr, "text": text}
    status = HTTPStatus.UNPROCESSABLE_ENTITY if form.errors else HTTPStatus.OK
    return render(request, "batches/people/badge.html", context, status=status)


def _pin_set(request: HttpRequest, form: PinForm, person: Person) -> bool:
    """Set the PIN that was typed; False leaves the reason on the form."""
    if not form.is_valid():
        return False
    try:
        with transaction.atomic():
            set_pin(person=person, pin=form.cleaned_data["pin"])
            note(request, "PIN set", about=person.name)
    except NurseryError as error:
        form.refuse(error)
        return False
    return True
