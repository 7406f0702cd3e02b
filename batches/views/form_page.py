"""How is a page shown that holds one form, and what does it answer to a form not understood?"""

from __future__ import annotations

from collections.abc import Sequence
from http import HTTPStatus
from typing import Any

from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

TEMPLATE = "batches/form/page.html"


def status_of(*forms: Form | None) -> HTTPStatus:
    """Return 422 when one of the forms was sent and not understood, else 200."""
    wrong = any(form is not None and form.is_bound and form.errors for form in forms)
    return HTTPStatus.UNPROCESSABLE_ENTITY if wrong else HTTPStatus.OK


def form_page(
    request: HttpRequest,
    form: Form,
    *,
    title: str,
    submit: str,
    crumbs: Sequence[tuple[str, str]],
    lead: str = "",
    cautions: Sequence[str] = (),
    template: str = TEMPLATE,
    **more: Any,
) -> HttpResponse:
    """Show a page with one form; the last crumb with an address is the way back."""
    ways = [href for _, href in crumbs if href]
    context = {
        "form": form,
        "title": title,
        "submit": submit,
        "crumbs": crumbs,
        "back": ways[-1] if ways else "",
        "lead": lead,
        "cautions": cautions,
        **more,
    }
    return render(request, template, context, status=status_of(form))
