"""Label prints: how far a long one is, its PDF, and the log of all there were."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from batches.labels.print_runs import run_of
from batches.services.label_log import prints_of
from batches.views.access import for_hands
from batches.views.labels import pdf_of

PRINTS_A_PAGE = 50
_FORGOTTEN = (
    "That print is not kept any more: only the latest are, until the program is started anew. "
    "Nothing of the records is lost; print the labels again."
)


@for_hands
@require_http_methods(["GET", "POST"])
def labels_run(request: HttpRequest, run_id: UUID) -> HttpResponse:
    """Show how far a print is, and then what it came to; a POST stops it."""
    run = run_of(run_id)
    if run is None:
        messages.warning(request, _FORGOTTEN)
        return redirect("batches:labels")
    if request.method == "POST":
        run.stop()
        run.wait(5)
        return redirect("batches:labels-run", run_id)
    return render(request, "batches/labels/run.html", {"run": run})


@for_hands
@require_GET
def labels_run_state(request: HttpRequest, run_id: UUID) -> HttpResponse:
    """Say how far a print is, for the page that waits for it."""
    run = run_of(run_id)
    return render(request, "batches/labels/_run.html", {"run": run, "forgotten": _FORGOTTEN})


@for_hands
@require_GET
def labels_run_pdf(request: HttpRequest, run_id: UUID) -> HttpResponse:
    """Give out the PDF of a print; the first time, it is written into the log."""
    run = run_of(run_id)
    answer = None if run is None else pdf_of(run)
    if answer is None:
        messages.warning(request, _FORGOTTEN)
        return redirect("batches:labels")
    return answer


@for_hands
@require_GET
def labels_log(request: HttpRequest) -> HttpResponse:
    """List all prints, or those of one code: so a label printed again is seen."""
    code = request.GET.get("code", "").strip()[:40]
    page = Paginator(prints_of(code=code), PRINTS_A_PAGE).get_page(request.GET.get("page"))
    return render(request, "batches/labels/log.html", {"page": page, "code": code})
