"""Backups: how old the last good copy is, here and on a stick, and a copy now."""

from __future__ import annotations

from pathlib import Path

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from batches.services import upkeep_rounds
from batches.services.copies import MARKER, STICK_FOLDER
from batches.services.safekeeping import safekeeping
from batches.views import clock
from batches.views.access import for_managers
from batches.views.noting import note
from batches.views.pdf_file import pdf_file
from batches.views.session_clock import asks_again


@for_managers
@never_cache
@require_safe
@asks_again
def backups(request: HttpRequest) -> HttpResponse:
    """Show the last good copies, what became of the last drill, and all copies there are."""
    data = Path(settings.NURSERY_DATA)
    context = {
        "kept": safekeeping(data=data, now=clock.now()),
        "folder": data / "backups",
        "marker": MARKER,
        "being_made": upkeep_rounds.a_copy_is_asked_for(),
        "today": clock.today(),
    }
    return render(request, "batches/backups/page.html", context)


@for_managers
@require_POST
def backup_now(request: HttpRequest) -> HttpResponse:
    """Ask for a copy; the server makes it beside the pages."""
    if upkeep_rounds.ask_for_a_copy():
        note(request, "copy asked for")
        messages.success(
            request, "A copy is being made, and brought onto the stick where one is plugged in."
        )
    else:
        messages.error(
            request,
            "This server makes no copies by itself. Nothing was made: run manage.py backup FOLDER.",
        )
    return redirect("batches:backups")


@for_managers
@require_safe
def restore_card(request: HttpRequest) -> HttpResponse:
    """Print the card that leads from a new computer to a running nursery, step by step."""
    context = {
        "data": settings.NURSERY_DATA,
        "stick_folder": STICK_FOLDER,
        "marker": MARKER,
        "port": settings.NURSERY_PORT,
        "address": request.build_absolute_uri("/"),
        "https": request.is_secure(),
    }
    return pdf_file(
        request, "batches/print/restore_card_pdf.html", context,
        name="restore-card", back=reverse("batches:backups"),
    )  # fmt: skip
