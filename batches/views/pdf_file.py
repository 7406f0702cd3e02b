"""How is a page given out as a PDF?"""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.template.loader import render_to_string

from batches.labels import LabelsUnavailable, html_to_pdf
from batches.services.own_settings import own_setting
from batches.views import clock


def pdf_file(
    request: HttpRequest,
    template: str,
    context: dict[str, Any],
    *,
    name: str,
    back: str,
    timeout: float = 60,
) -> HttpResponse:
    """Return a template as a PDF; where none can be made, go to `back` and say why.

    The template is no page of the program: it gets nothing but `context`, the day, the moment and
    the nursery's name, and nothing on disk or on a network can be drawn into it.
    """
    frame = {
        "today": clock.today(),
        "now": clock.now(),
        "nursery_name": own_setting("nursery_name"),
        "printed_by": request.user.get_username(),
    }
    try:
        pdf = html_to_pdf(render_to_string(template, frame | context), timeout=timeout)
    except LabelsUnavailable as error:
        messages.error(request, f"{error.message} The page can be printed from the browser.")
        return redirect(back)
    answer = HttpResponse(pdf, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    return answer
