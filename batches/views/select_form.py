"""A form is selected out of a tray: it leaves as a batch of its own."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from batches.core.errors import NurseryError
from batches.forms.select_form import SelectForm
from batches.models import Tray
from batches.services.selecting import select_form as take_out
from batches.services.tray_life import require_standing
from batches.views import clock
from batches.views.access import for_hands
from batches.views.form_page import form_page

_BLADE = "Clean blades between plants and cut away from yourself; your employer's rules hold."


@for_hands
@require_http_methods(["GET", "POST"])
def select_form(request: HttpRequest, code: str) -> HttpResponse:
    """Show the form for a tray; a POST takes the plants out into a new batch."""
    tray = get_object_or_404(Tray.objects.with_fern(), code=code)
    form = SelectForm(request.POST or None, tray=tray, today=clock.today())
    if request.method == "POST" and form.is_valid():
        try:
            chosen = take_out(
                tray=tray, by=request.user.get_username(), now=clock.now(), **form.cleaned_data
            )
        except NurseryError as error:
            form.refuse(error)
        else:
            messages.success(request, chosen.message)
            return redirect("batches:tray", chosen.tray.code)
    elif request.method == "GET":
        try:
            require_standing(tray)
        except NurseryError as error:
            messages.error(request, error.message)
            return redirect("batches:tray", code)
    return form_page(
        request,
        form,
        title=f"Select a form out of {tray.code}",
        submit="Take it out",
        crumbs=[(tray.code, reverse("batches:tray", args=[code])), ("Select a form", "")],
        lead="It leaves as a new batch whose origin is this tray, and is kept on by division, so "
        "that it is never mixed with its sisters again.",
        cautions=[_BLADE],
    )
