"""How does a person sign in, sign out, and choose a password?"""

from __future__ import annotations

from http import HTTPStatus

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import login, logout, update_session_auth_hash
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from batches.core.errors import NurseryError
from batches.models import Person
from batches.services import people
from batches.views import clock
from batches.views.access import for_anyone, for_hands
from batches.views.noting import note
from batches.views.session_clock import proved_now

BACKEND = "django.contrib.auth.backends.ModelBackend"


def device_of(request: HttpRequest) -> str:
    """Give the network address a request came from: what wrong tries are counted by."""
    return str(request.META.get("REMOTE_ADDR", ""))


def _way_on(request: HttpRequest, address: str) -> str:
    """Give the address on this server where somebody wanted to go; Today for any other."""
    safe = url_has_allowed_host_and_scheme(
        address, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )
    return address if safe else settings.LOGIN_REDIRECT_URL


@for_anyone
@never_cache
@sensitive_post_parameters("password")
@require_http_methods(["GET", "HEAD", "POST"])
def sign_in(request: HttpRequest) -> HttpResponse:
    """Show the form for name and password, and take it."""
    way_on = _way_on(request, request.POST.get("next") or request.GET.get("next") or "")
    context = {"next": way_on, "name": request.POST.get("name", "")}
    if request.method == "POST":
        try:
            person = people.person_of_password(
                name=request.POST.get("name", ""),
                password=request.POST.get("password", ""),
                device=device_of(request),
                now=clock.now(),
            )
        except NurseryError as error:
            if isinstance(error, people.WrongPassword):
                note(request, "sign-in refused", about=request.POST.get("name", ""))
            context["error"] = error.message
            return render(
                request,
                "batches/sign_in/page.html",
                context,
                status=HTTPStatus.UNPROCESSABLE_ENTITY,
            )
        with transaction.atomic():
            login(request, person, backend=BACKEND)
            proved_now(request)
            note(request, "signed in", after="password")
        return redirect(way_on)
    return render(request, "batches/sign_in/page.html", context)


@for_anyone
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def sign_in_link(request: HttpRequest, secret: str) -> HttpResponse:
    """Show one button for whom a one-time link is; pressing it signs in and uses the link up."""
    try:
        if request.method == "POST":
            with transaction.atomic():
                person = people.use_signin_link(secret=secret, now=clock.now())
                login(request, person, backend=BACKEND)
                proved_now(request)
                note(request, "signed in", after="one-time link")
            return redirect(settings.LOGIN_REDIRECT_URL)
        person = people.person_of_link(secret=secret, now=clock.now())
    except people.LinkNotUsable as error:
        return render(
            request,
            "batches/sign_in/link_over.html",
            {"error": error.message},
            status=HTTPStatus.GONE,
        )
    role = people.ROLE_WORDS[person.role]
    return render(request, "batches/sign_in/link.html", {"person": person, "role": role})


@for_anyone
@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """End this browser's session."""
    with transaction.atomic():
        if request.user.is_authenticated:
            note(request, "signed out")
        logout(request)
    return redirect(settings.LOGIN_URL)


@for_hands
@never_cache
@sensitive_post_parameters("current", "new")
@require_http_methods(["GET", "HEAD", "POST"])
def my_password(request: HttpRequest) -> HttpResponse:
    """Show and take the form with which a person chooses a password."""
    person = request.user
    assert isinstance(person, Person)  # noqa: S101 - for_hands lets nobody else in
    context: dict[str, object] = {"has_password": person.has_usable_password()}
    if request.method == "POST":
        refusal = _password_chosen(request, person)
        if refusal is not None:
            context |= {"error": refusal.message, "field": refusal.field}
            return render(
                request,
                "batches/sign_in/password.html",
                context,
                status=HTTPStatus.UNPROCESSABLE_ENTITY,
            )
        messages.success(
            request, "Your password is set. It signs you in from now on, beside one-time links."
        )
        return redirect(settings.LOGIN_REDIRECT_URL)
    return render(request, "batches/sign_in/password.html", context)


@transaction.atomic
def _password_chosen(request: HttpRequest, person: Person) -> NurseryError | None:
    """Set the password that was typed, and return why not; a wrong try stays counted."""
    try:
        people.choose_password(
            person=person,
            current=request.POST.get("current", ""),
            new=request.POST.get("new", ""),
            device=device_of(request),
            now=clock.now(),
        )
    except NurseryError as error:
        return error
    update_session_auth_hash(request, person)
    note(request, "password chosen", about=person.name)
    return None


@for_hands
@never_cache
@sensitive_post_parameters("password")
@require_http_methods(["GET", "HEAD", "POST"])
def prove(request: HttpRequest) -> HttpResponse:
    """Ask for the own password once more, and lead on to where it was asked for."""
    person = request.user
    assert isinstance(person, Person)  # noqa: S101 - for_hands lets nobody else in
    way_on = _way_on(request, request.POST.get("next") or request.GET.get("next") or "")
    context = {"next": way_on}
    if request.method == "POST":
        try:
            people.person_of_password(
                name=person.name,
                password=request.POST.get("password", ""),
                device=device_of(request),
                now=clock.now(),
            )
        except NurseryError as error:
            context["error"] = error.message
            return render(
                request,
                "batches/sign_in/prove.html",
                context,
                status=HTTPStatus.UNPROCESSABLE_ENTITY,
            )
        proved_now(request)
        return redirect(way_on)
    return render(request, "batches/sign_in/prove.html", context)
