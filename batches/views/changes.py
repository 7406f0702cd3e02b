"""Changes: who changed what that no look and no row of the stock book tells of."""

from __future__ import annotations

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from batches.models import ChangeNote
from batches.services.change_notes import change_rows, changes_about
from batches.views.access import for_managers
from batches.views.csv_file import csv_file
from batches.views.session_clock import asks_again

NOTES_A_PAGE = 60


@for_managers
@never_cache
@require_safe
@asks_again
def changes(request: HttpRequest) -> HttpResponse:
    """Show the noted changes, newest first; with words, those that name them."""
    words = request.GET.get("about", "")[:80]
    page = Paginator(changes_about(words), NOTES_A_PAGE).get_page(request.GET.get("page"))
    newest = ChangeNote.objects.first()
    context = {"page": page, "about": words, "newest": newest}
    return render(request, "batches/changes/page.html", context)


@for_managers
@require_safe
@asks_again
def changes_csv(request: HttpRequest) -> HttpResponse:
    """Give every noted change as a file, with its seal."""
    return csv_file(change_rows(), name="changes.csv")
