"""People: who works here, in which role, and a one-time link for each to sign in."""

from __future__ import annotations

from http import HTTPStatus

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_http_methods, require_POST

from batches.core.errors import NurseryError
from batches.forms.person import PersonForm
from batches.models import Person
from batches.services.people import make_signin_link, person_in_role, stop_person
from batches.views import clock
from batches.views.access import for_managers
from batches.views.first_steps import shown_next


@for_managers
@never_cache
@require_http_methods(["GET", "POST"])
def people(request: HttpRequest) -> HttpResponse:
    """List the people; a POST adds one, or gives somebody known another role."""
    form = PersonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            person = person_in_role(**form.cleaned_data)
        except NurseryError as error:
            form.refuse(error)
        else:
            words = f"{person.name} is here as {person.get_role_display()}. Make them a link now."
            messages.success(request, words)
            return redirect("batches:people")
    context = {
        "form": form,
        "people": Person.objects.order_by("-is_active", "name"),
        "next_step": shown_next(request, after="people"),
    }
    status = HTTPStatus.UNPROCESSABLE_ENTITY if form.errors else HTTPStatus.OK
    return render(request, "batches/people/page.html", context, status=status)


@for_managers
@never_cache
@sensitive_variables()
@require_POST
def signin_link(request: HttpRequest, pk: int) -> HttpResponse:
    """Make a one-time link for somebody; it is shown this once."""
    person = get_object_or_404(Person, pk=pk, is_active=True)
    link = make_signin_link(person=person, now=clock.now())
    address = request.build_absolute_uri(reverse("batches:sign-in-link", args=[link.secret]))
    context = {"person": person, "address": address, "expires_at": link.expires_at}
    return render(request, "batches/people/link.html", context)


@for_managers
@require_POST
def stop(request: HttpRequest, pk: int) -> HttpResponse:
    """Let somebody who left sign in no more."""
    person = get_object_or_404(Person, pk=pk)
    try:
        stop_person(person=person)
    except NurseryError as error:
        messages.error(request, error.message)
    else:
        messages.success(request, f"{person.name} can sign in no more; what they did stays.")
    return redirect("batches:people")
