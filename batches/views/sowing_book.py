"""An old sowing book from a spreadsheet: its columns and ferns matched, then stored."""

from __future__ import annotations

import zipfile
from http import HTTPStatus
from pathlib import Path, PurePosixPath
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from batches.core.errors import NurseryError
from batches.forms.sowing_book import BookForm, ColumnsForm, FernsForm
from batches.services.records_io import setting_aside
from batches.services.sowing_book.building import Choices, build_records
from batches.services.sowing_book.ferns import answers_offered, ferns_named
from batches.services.sowing_book.matching import Matching, guessed, matched
from batches.services.sowing_book.reading import Book, read_book
from batches.views import clock
from batches.views.access import for_office
from batches.views.records import faults_shown, waits_to_be_stored

#: where the session keeps which book waits, and what was said of it
BOOK = "sowing_book"
#: the file within the zip that is kept meanwhile
_KEPT_AS = "book.csv"


def _folder() -> Path:
    return Path(settings.NURSERY_DATA) / "imports"


@for_office
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def sowing_book(request: HttpRequest) -> HttpResponse:
    """Ask for the file; a POST reads it and leads on to its columns."""
    form = BookForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        file = form.cleaned_data["book"]
        try:
            data = file.read()
            read_book(data)
            _forget(request)
            token = setting_aside.set_aside([(_KEPT_AS, data)], folder=_folder(), now=clock.now())
        except NurseryError as error:
            form.add_error("book", error.message)
        else:
            name = PurePosixPath((file.name or "the book").replace("\\", "/")).name[:80]
            request.session[BOOK] = {"token": token, "name": name}
            return redirect("batches:sowing-book-columns")
    status = HTTPStatus.UNPROCESSABLE_ENTITY if form.errors else HTTPStatus.OK
    return render(request, "batches/sowing_book/page.html", {"form": form}, status=status)


@for_office
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def columns(request: HttpRequest) -> HttpResponse:
    """Show the columns with their first cells; a POST says which is what."""
    book = _book(request)
    if book is None:
        return redirect("batches:sowing-book")
    kept = request.session[BOOK]
    places = {f"column_{at}": name for at, name in (_matching(kept) or guessed(book)).items()}
    initial = places | {
        "day_first": kept.get("day_first", False),
        "end": kept.get("end", "cleared"),
    }
    form = ColumnsForm(request.POST or None, book=book, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            matching = matched(form.matching(), book=book)
        except NurseryError as error:
            form.refuse(error)
        else:
            request.session[BOOK] = kept | {
                "matching": {str(place): name for place, name in matching.items()},
                "day_first": form.cleaned_data["day_first"],
                "end": form.cleaned_data["end"],
            }
            return redirect("batches:sowing-book-ferns")
    context = {"form": form, "rows": len(book.rows), "name": kept["name"]}
    status = HTTPStatus.UNPROCESSABLE_ENTITY if form.errors else HTTPStatus.OK
    return render(request, "batches/sowing_book/columns.html", context, status=status)


@for_office
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def ferns(request: HttpRequest) -> HttpResponse:
    """Show which fern each name is; a POST looks into every row and leads on to the look at all."""
    book = _book(request)
    if book is None:
        return redirect("batches:sowing-book")
    kept = request.session[BOOK]
    matching = _matching(kept)
    if not matching:
        return redirect("batches:sowing-book-columns")
    place = next(at for at, name in matching.items() if name == "fern")
    named = ferns_named([row.cells[place] for row in book.rows])
    form = FernsForm(request.POST or None, named=named, offered=answers_offered())
    context: dict[str, Any] = {"form": form, "name": kept["name"]}
    if request.method == "POST" and form.is_valid():
        choices = Choices(day_first=kept["day_first"], end=kept["end"], ferns=form.answers())
        built = build_records(book=book, name=kept["name"], matching=matching, choices=choices)
        faults = built.faults
        if not faults and not built.files:
            form.add_error(None, "Every row is left out: nothing is there to store.")
        elif not faults:
            found = waits_to_be_stored(request, built.files)
            faults = tuple(built.in_book(error, book=kept["name"]) for error in found)
            if not faults:
                _forget(request)
                if built.left_out:
                    messages.warning(request, f"{built.left_out:,} rows were left out.")
                return redirect("batches:records-preview")
        context |= faults_shown(faults)
    wrong = form.errors or context.get("fault_count")
    status = HTTPStatus.UNPROCESSABLE_ENTITY if wrong else HTTPStatus.OK
    return render(request, "batches/sowing_book/ferns.html", context, status=status)


def _book(request: HttpRequest) -> Book | None:
    """Read the book that waits; None where none does, or it was cleared away."""
    kept = request.session.get(BOOK)
    if kept is None:
        messages.warning(request, "No sowing book waits here. Choose it first.")
        return None
    try:
        with zipfile.ZipFile(setting_aside.waiting(kept["token"], folder=_folder())) as packed:
            return read_book(packed.read(_KEPT_AS))
    except NurseryError as error:
        messages.warning(request, error.message)
        return None


def _matching(kept: dict[str, Any]) -> Matching:
    return {int(place): name for place, name in kept.get("matching", {}).items()}


def _forget(request: HttpRequest) -> None:
    kept = request.session.pop(BOOK, None)
    if kept is not None:
        setting_aside.drop(kept["token"], folder=_folder())
