"""Which thing does the code in an address name, whatever its case?"""

from __future__ import annotations

from http import HTTPStatus

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from batches.core.errors import NurseryError
from batches.services.codes import a_noun, find_code


def not_by_that_code(request: HttpRequest, code: str, *, kind: str, page: str) -> HttpResponse:
    """Send on to the page of the code as it is stored, or say what is wrong with it; 404."""
    try:
        found = find_code(code)
        if found.kind == kind:
            return redirect(f"batches:{page}", found.code)
        words = (
            f"{found.code} is the code of {a_noun(found.kind)}, not of {a_noun(kind)}. "
            "Type it into the box above to open it."
        )
    except NurseryError as error:
        words = error.message
    context = {"error": words, "text": code[:40]}
    return render(request, "batches/tray/unknown.html", context, status=HTTPStatus.NOT_FOUND)
