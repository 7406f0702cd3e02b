"""Settings: what the nursery decides for itself."""

from __future__ import annotations

from http import HTTPStatus
from pathlib import Path
from typing import Any

from django.conf import settings as site
from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from batches.core.cares import Care
from batches.core.stages import Route
from batches.forms.nursery_settings import SettingsForm, reminder_field
from batches.services.cares import set_reminder, wanted_cares
from batches.services.local_authority import CertificateUnreadable, read_authority
from batches.services.own_settings import own_setting, set_own
from batches.services.server_certificate import read_server_certificate
from batches.views.access import for_managers
from batches.views.https_door import https_at, same_over_https, setup_address
from batches.views.noting import note
from batches.views.session_clock import asks_again


@for_managers
@require_http_methods(["GET", "POST"])
@asks_again
def settings(request: HttpRequest) -> HttpResponse:
    """Show the settings; a POST stores them."""
    wanted = wanted_cares()
    initial = {name: own_setting(name) for name in SettingsForm.base_fields} | {
        reminder_field(route, care): care in wanted.get(route, frozenset())
        for route in Route
        for care in Care
    }
    form = SettingsForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        changed = [name for name in given if given[name] != initial[name]]
        with transaction.atomic():
            _store(form, changed)
            if changed:
                note(
                    request,
                    "settings changed",
                    before={name: initial[name] for name in changed},
                    after={name: form.cleaned_data[name] for name in changed},
                )
        messages.success(request, "The settings are stored.")
        return redirect("batches:settings")
    status = HTTPStatus.UNPROCESSABLE_ENTITY if form.errors else HTTPStatus.OK
    context = {"form": form} | _https(request)
    return render(request, "batches/settings/page.html", context, status=status)


def _store(form: SettingsForm, changed: list[str]) -> None:
    for name in SettingsForm.base_fields:
        if name in changed:
            set_own(name=name, value=form.cleaned_data[name])
    for route in Route:
        for care in Care:
            field = reminder_field(route, care)
            if field in changed:
                set_reminder(route=route, care=care, enabled=form.cleaned_data[field])


def _https(request: HttpRequest) -> dict[str, Any]:
    """Return what the manager compares a new tablet with; empty where https was never served."""
    data, at = Path(site.NURSERY_DATA), https_at()
    try:
        authority = read_authority(data=data)
        certificate = read_server_certificate(data=data)
    except CertificateUnreadable as error:
        return {"unreadable": error.message}
    except OSError as error:
        return {"unreadable": f"The certificates cannot be read ({error.strerror})."}
    if authority is None:
        return {}
    return {
        "authority": authority,
        "certificate": certificate,
        "fingerprint": authority.fingerprint.split(":"),
        "https_address": same_over_https(request, at) if at is not None else "",
        "setup_address": setup_address(request),
    }
