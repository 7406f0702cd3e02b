"""People: who works here, in which role, and a one-time link for each to sign in."""

from __future__ import annotations

from http import HTTPStatus

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_http_methods, require_POST

from batches.core.errors import NurseryError
from batches.forms.person import NameForm, PersonForm
from batches.models import Person
from batches.services.people import (
    make_signin_link,
    person_in_role,
    rename_person,
    stop_person,
)
from batches.views import clock
from batches.views.access import for_managers
from batches.views.first_steps import shown_next
from batches.views.form_page import form_page
from batches.views.noting import note
from batches.views.session_clock import asks_again


@for_managers
@never_cache
@require_http_methods(["GET", "POST"])
@asks_again
def people(request: HttpRequest) -> HttpResponse:
    """List the people; a POST adds one, or gives somebody known another role."""
    form = PersonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        before = Person.objects.filter(name=form.cleaned_data["name"]).values("role", "is_active")
        was = before.first()
        try:
            with transaction.atomic():
                person = person_in_role(**form.cleaned_data)
                note(
                    request,
                    "person added" if was is None else "role given",
                    about=person.name,
                    before=was,
                    after={"role": person.role, "is_active": person.is_active},
                )
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
@asks_again
def signin_link(request: HttpRequest, pk: int) -> HttpResponse:
    """Make a one-time link for somebody; it is shown this once."""
    person = get_object_or_404(Person, pk=pk, is_active=True)
    with transaction.atomic():
        link = make_signin_link(person=person, now=clock.now())
        note(request, "sign-in link made", about=person.name)
    address = request.build_absolute_uri(reverse("batches:sign-in-link", args=[link.secret]))
    context = {"person": person, "address": address, "expires_at": link.expires_at}
    return render(request, "batches/people/link.html", context)


@for_managers
@never_cache
@require_http_methods(["GET", "POST"])
@asks_again
def rename(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the form with which somebody gets another name; a POST stores it."""
    person = get_object_or_404(Person, pk=pk)
    before = person.name
    form = NameForm(request.POST or None, initial={"name": before})
    if request.method == "POST" and form.is_valid():
        try:
            with transaction.atomic():
                by = request.user.get_username()
                rename_person(person=person, name=form.cleaned_data["name"])
                note(
                    request, "person renamed", about=person.name, before=before,
                    after=person.name, by=by,
                )  # fmt: skip
        except NurseryError as error:
            form.refuse(error)
        else:
            messages.success(
                request,
                f"{before} is called {person.name} now, and signs in under that name. What was "
                "written before keeps the old one.",
            )
            return redirect("batches:people")
    return form_page(
        request, form, title="Another name", submit="Store the name",
        crumbs=[("People", reverse("batches:people")), (before, "")],
    )  # fmt: skip


@for_managers
@require_POST
@asks_again
def stop(request: HttpRequest, pk: int) -> HttpResponse:
    """Let somebody who left sign in no more."""
    person = get_object_or_404(Person, pk=pk)
    try:
        with transaction.atomic():
            stop_person(person=person)
            note(request, "person stopped", about=person.name)
    except NurseryError as error:
        messages.error(request, error.message)
    else:
        messages.success(request, f"{person.name} can sign in no more; what they did stays.")
    return redirect("batches:people")
