"""Tablets: who stands at the benches, which is silent, and how another is enrolled."""

from __future__ import annotations

from collections import Counter
from http import HTTPStatus
from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.http.request import split_domain_port
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from batches.core.errors import NurseryError
from batches.forms.tablets import EnrolForm, WaitingFileForm
from batches.labels.errors import LabelRefused
from batches.labels.qr_drawing import qr_image
from batches.models import Device, Person
from batches.services.bench_people import wrong_pins
from batches.services.devices import CODE_LIFE, make_enrolment_code, revoke
from batches.services.own_settings import own_setting
from batches.services.tablet_watch import revoked_tablets, tablets
from batches.services.waiting_file import take_waiting_file
from batches.views import clock
from batches.views.access import Access, access_of, for_managers, for_office
from batches.views.https_door import https_at, setup_address
from batches.views.noting import note
from batches.views.session_clock import asks_again

_SIDE_MM = 60
_STATUS_WORDS = {
    "created": "stored",
    "duplicate": "stored before",
    "merged": "stored; another look had seen the same",
    "review": "to settle",
    "rejected": "not readable",
    "fault": "not stored: a fault of the program; keep the file",
}


@for_office
@never_cache
@require_GET
@asks_again
def tablets_page(request: HttpRequest) -> HttpResponse:
    """List the tablets, with what each still holds; managers enrol, revoke and take in files."""
    return _page(request)


@for_managers
@never_cache
@sensitive_variables()
@require_POST
@asks_again
def enrol_new(request: HttpRequest) -> HttpResponse:
    """Make a code for a tablet and show it, as a QR too, for the ten minutes it works."""
    form = EnrolForm(request.POST)
    if form.is_valid():
        try:
            with transaction.atomic():
                made = make_enrolment_code(
                    tablet_name=form.cleaned_data["name"],
                    made_by=request.user.get_username(),
                    now=clock.now(),
                )
                note(request, "tablet code made", about=form.cleaned_data["name"])
        except NurseryError as error:
            form.refuse(error)
        else:
            base = _address_for_tablets(request)
            address = base + reverse("batches:enrol", args=[made.secret])
            context = {
                "name": form.cleaned_data["name"],
                "code": made.secret,
                "address": address,
                "typed_at": base + reverse("batches:enrol-typed"),
                "setup_at": setup_address(request),
                "qr": _qr(address),
                "expires_at": made.expires_at,
                "seconds": int(CODE_LIFE.total_seconds()),
                "alone": _is_this_machine(base),
            }
            return render(request, "batches/tablets/enrol.html", context)
    return _page(request, enrol_form=form)


@for_managers
@require_POST
@asks_again
def tablet_revoke(request: HttpRequest, pk: int) -> HttpResponse:
    """Let a tablet send no more until it is enrolled again."""
    device = get_object_or_404(Device, pk=pk)
    with transaction.atomic():
        revoke(device=device, now=clock.now())
        note(request, "tablet revoked", about=device.name)
    messages.success(
        request,
        f"“{device.name}” sends no more. What waits on it stays there; enrol it again to take it "
        "in.",
    )
    return redirect("batches:tablets")


@for_managers
@require_http_methods(["POST"])
def waiting_file(request: HttpRequest) -> HttpResponse:
    """Take in what a tablet saved to a file, and show the answer to each item."""
    form = WaitingFileForm(request.POST, request.FILES)
    person = request.user
    assert isinstance(person, Person)  # noqa: S101 - for_managers lets nobody else in
    if form.is_valid():
        try:
            with transaction.atomic():
                answers = take_waiting_file(
                    data=form.cleaned_data["file"].read(),
                    device=form.cleaned_data["tablet"],
                    person=person,
                    now=clock.now(),
                )
                counts = Counter(answer.status for answer in answers)
                note(
                    request,
                    "saved file taken in",
                    about=str(form.cleaned_data["tablet"] or ""),
                    after=counts,
                )
        except NurseryError as error:
            form.refuse(error)
        else:
            context = {
                "answers": [(one, _STATUS_WORDS[one.status]) for one in answers],
                "counts": [(_STATUS_WORDS[word], counts[word]) for word in counts],
            }
            return render(request, "batches/tablets/taken.html", context)
    return _page(request, file_form=form)


def _page(
    request: HttpRequest,
    *,
    enrol_form: EnrolForm | None = None,
    file_form: WaitingFileForm | None = None,
) -> HttpResponse:
    now = clock.now()
    manages = access_of(request) >= Access.MANAGER
    context: dict[str, Any] = {
        "tablets": tablets(now=now),
        "revoked": revoked_tablets(),
        "wrong_pins": wrong_pins(now=now) if manages else (),
        "manages": manages,
        "enrol_form": enrol_form or EnrolForm(),
        "file_form": file_form or WaitingFileForm(),
    }
    refused = enrol_form is not None or file_form is not None
    status = HTTPStatus.UNPROCESSABLE_ENTITY if refused else HTTPStatus.OK
    return render(request, "batches/tablets/page.html", context, status=status)


def _address_for_tablets(request: HttpRequest) -> str:
    """Return by which address a tablet on the network reaches this server, without a slash."""
    at = https_at()
    if at is not None:
        host, _ = split_domain_port(request.get_host())
        return at.address_for(at.hosts[0] if _is_this_machine(host) else host)
    here = request.build_absolute_uri("/").rstrip("/")
    chosen = str(own_setting("label_address"))
    return chosen if chosen and _is_this_machine(here) else here


def _is_this_machine(address: str) -> bool:
    bare = address.removeprefix("http://").removeprefix("https://")
    return bare.startswith(("127.", "localhost", "[::1]"))


def _qr(address: str) -> SafeString:
    try:
        return mark_safe(qr_image(address, side_mm=_SIDE_MM))  # noqa: S308 - our own drawing
    except LabelRefused:
        return mark_safe("")
