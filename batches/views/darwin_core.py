"""Origins, lots and batches given out as Darwin Core."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from batches.services import darwin_core
from batches.views import clock
from batches.views.access import for_office


@for_office
@require_safe
def darwin_core_csv(request: HttpRequest) -> HttpResponse:
    """Give out one CSV file whose columns are terms of Darwin Core."""
    text = darwin_core.darwin_core_csv()
    return _file(text.encode(), "text/csv; charset=utf-8", "csv")


@for_office
@require_safe
def darwin_core_zip(request: HttpRequest) -> HttpResponse:
    """Give out a Darwin Core archive."""
    return _file(darwin_core.darwin_core_archive(), "application/zip", "zip")


def _file(content: bytes, kind: str, ending: str) -> HttpResponse:
    answer = HttpResponse(content, content_type=kind)
    name = f"darwin-core-{clock.today():%Y-%m-%d}.{ending}"
    answer["Content-Disposition"] = f'attachment; filename="{name}"'
    return answer
