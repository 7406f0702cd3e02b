"""The small sums: a counted suspension, sowing density, mix for containers, feed."""

from __future__ import annotations

from http import HTTPStatus

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from batches.core.errors import NurseryError
from batches.forms.reckoners import RECKONERS, Answer
from batches.views.access import for_hands


@for_hands
@require_GET
def reckon(request: HttpRequest, what: str) -> HttpResponse:
    """Ask for the numbers of one sum and answer it; nothing is stored."""
    kind = RECKONERS.get(what)
    if kind is None:
        raise Http404("There is no such sum.")
    form = kind(request.GET if request.GET.get("reckon") else None)
    answer: Answer = ()
    if form.is_bound and form.is_valid():
        try:
            answer = form.answer()
        except NurseryError as error:
            form.refuse(error)
    if not form.is_bound:
        form.initial = {k: v for k, v in request.GET.items() if k in form.fields}
    context = {
        "form": form,
        "what": what,
        "answer": answer,
        "others": [(name, other.title) for name, other in RECKONERS.items()],
    }
    status = HTTPStatus.UNPROCESSABLE_ENTITY if form.errors else HTTPStatus.OK
    return render(request, "batches/reckon/page.html", context, status=status)
