"""Help: how a day goes, the keys, the words of the trade, and what this program is made of."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from batches.services.installed import ground, packages, program_licence, program_version
from batches.services.trade_words import WORD_GROUPS
from batches.views.access import for_hands, for_tablets


@for_tablets
@require_GET
def help_page(request: HttpRequest) -> HttpResponse:
    """Say how a day goes, where things are, and which keys there are."""
    return render(request, "batches/help/page.html")


@for_tablets
@require_GET
def words(request: HttpRequest) -> HttpResponse:
    """Explain the words of the trade."""
    return render(request, "batches/help/words.html", {"groups": WORD_GROUPS})


@for_hands
@require_GET
def about(request: HttpRequest) -> HttpResponse:
    """Show versions and licences, as the installed packages tell them."""
    context = {
        "version": program_version(),
        "licence": program_licence(),
        "ground": ground(),
        "packages": packages(),
    }
    return render(request, "batches/help/about.html", context)
