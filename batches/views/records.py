"""All records as plain files: taken in after a look at them, and given out."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Sequence
from http import HTTPStatus
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.http import FileResponse, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods, require_safe

from batches.core.errors import NurseryError
from batches.forms.records import ImportForm
from batches.services.copies import copy_before_import
from batches.services.records_io import (
    MOST_BYTES_UPLOADED,
    ImportResult,
    RowError,
    export_records,
    import_records,
    setting_aside,
)
from batches.views import clock
from batches.views.access import for_office
from batches.views.noting import note
from batches.views.session_clock import asks_again

#: where the session keeps which files wait
WAITING = "records_waiting"
#: faults shown on the page; the command lists them all
MOST_FAULTS = 500


def _folder() -> Path:
    return Path(settings.NURSERY_DATA) / "imports"


@for_office
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def records(request: HttpRequest) -> HttpResponse:
    """Show both ways; a POST looks into uploaded files and stores nothing yet."""
    if request.method != "POST":
        return _page(request, form=ImportForm())
    form = ImportForm(request.POST, request.FILES)
    if not form.is_valid():
        return _page(request, form=form, status=HTTPStatus.UNPROCESSABLE_ENTITY)
    files = _bytes_of(form.cleaned_data["chosen"])
    try:
        faults = waits_to_be_stored(request, files, day_first=form.cleaned_data["day_first"])
    except NurseryError as error:
        form.add_error("chosen", error.message)
        return _page(request, form=form, status=HTTPStatus.UNPROCESSABLE_ENTITY)
    if faults:
        return _refused(request, faults, form=form)
    return redirect("batches:records-preview")


def waits_to_be_stored(
    request: HttpRequest, files: Sequence[tuple[str, bytes]], *, day_first: bool = False
) -> tuple[RowError, ...]:
    """Set files aside for `records_preview` and return nothing; else say what is wrong with them.

    Raises
    ------
    NurseryError
        When the files themselves cannot be opened or kept.
    """
    _drop_waiting(request)
    token = setting_aside.set_aside(files, folder=_folder(), now=clock.now())
    try:
        result = _take_in(request, token, day_first=day_first, dry_run=True)
    except NurseryError:
        setting_aside.drop(token, folder=_folder())
        raise
    if result.errors:
        setting_aside.drop(token, folder=_folder())
        return result.errors
    request.session[WAITING] = {
        "token": token, "day_first": day_first, "rows": _rows(result), "derived": result.derived
    }  # fmt: skip
    return ()


def faults_shown(faults: Sequence[RowError]) -> dict[str, Any]:
    """Return what `records/_faults.html` shows of faults; nothing where there are none."""
    if not faults:
        return {}
    return {
        "faults": faults[:MOST_FAULTS],
        "fault_count": len(faults),
        "faults_left": max(0, len(faults) - MOST_FAULTS),
    }


@for_office
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def records_preview(request: HttpRequest) -> HttpResponse:
    """Show what waiting files hold; a POST stores all of it, or drops them."""
    waiting: dict[str, Any] | None = request.session.get(WAITING)
    if waiting is None:
        messages.warning(request, "No files wait to be stored. Choose them here.")
        return redirect("batches:records")
    if request.method != "POST":
        return render(request, "batches/records/preview.html", _preview(waiting))
    if request.POST.get("do") == "drop":
        _drop_waiting(request)
        messages.success(request, "The files were dropped. Nothing was stored.")
        return redirect("batches:records")
    try:
        result = _take_in(request, waiting["token"], day_first=waiting["day_first"], dry_run=False)
    except NurseryError as error:
        messages.error(request, error.message)
        return redirect("batches:records")
    _drop_waiting(request)
    if result.errors:
        return _refused(request, result.errors, form=ImportForm())
    count = sum(result.counts.values())
    messages.success(request, f"Stored: {count:,} row{'' if count == 1 else 's'}.")
    return redirect("batches:records")


@for_office
@never_cache
@require_safe
@asks_again
def records_export(request: HttpRequest) -> FileResponse:
    """Give everything as one zip."""
    name = f"records-{clock.today().isoformat()}.zip"
    packed = tempfile.TemporaryFile()  # noqa: SIM115 - the response closes it
    with tempfile.TemporaryDirectory() as folder:
        export_records(path=Path(folder) / name, now=clock.now())
        with (Path(folder) / name).open("rb") as written:
            shutil.copyfileobj(written, packed)
    packed.seek(0)
    note(request, "records exported", about=name)
    return FileResponse(packed, as_attachment=True, filename=name, content_type="application/zip")


def _bytes_of(files: list[UploadedFile]) -> list[tuple[str, bytes]]:
    return [(file.name or "", file.read()) for file in files]


def _take_in(request: HttpRequest, token: str, *, day_first: bool, dry_run: bool) -> ImportResult:
    return import_records(
        path=setting_aside.waiting(token, folder=_folder()),
        now=clock.now(),
        by=request.user.get_username(),
        day_first=day_first,
        dry_run=dry_run,
        most_bytes=MOST_BYTES_UPLOADED,
        before_storing=lambda: copy_before_import(
            data=Path(settings.NURSERY_DATA), now=clock.now()
        ),
        note_stored=lambda stored: note(request, "records imported", after=stored),
    )


def _drop_waiting(request: HttpRequest) -> None:
    waiting = request.session.pop(WAITING, None)
    if waiting is not None:
        setting_aside.drop(waiting["token"], folder=_folder())


def _rows(result: ImportResult) -> list[tuple[str, int, int]]:
    """Return file, new rows and rows there already, of the files that hold any."""
    return [
        (name, count, result.already[name])
        for name, count in result.counts.items()
        if count or result.already[name]
    ]


def _preview(waiting: dict[str, Any]) -> dict[str, Any]:
    return {
        "rows": waiting["rows"],
        "new": sum(count for _, count, _ in waiting["rows"]),
        "first_counts": waiting["derived"].get("movements.csv", 0),
        "first_places": waiting["derived"].get("places.csv", 0),
    }


def _page(
    request: HttpRequest, *, form: ImportForm, status: HTTPStatus = HTTPStatus.OK, **more: Any
) -> HttpResponse:
    return render(request, "batches/records/page.html", {"form": form, **more}, status=status)


def _refused(request: HttpRequest, faults: Sequence[RowError], *, form: ImportForm) -> HttpResponse:
    status = HTTPStatus.UNPROCESSABLE_ENTITY
    return _page(request, form=form, status=status, **faults_shown(faults))
