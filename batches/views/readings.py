"""The temperatures of the houses, typed in or pasted."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from batches.core.errors import NurseryError
from batches.forms.nursery_form import NurseryForm
from batches.forms.register import PastedForm, ReadingForm
from batches.models import House, HouseReading
from batches.services.readings import Reading, ReadingsStored, read_lines, store_readings
from batches.views import clock
from batches.views.access import for_hands
from batches.views.form_page import status_of

READINGS_A_PAGE = 30


@for_hands
@require_http_methods(["GET", "POST"])
def readings(request: HttpRequest) -> HttpResponse:
    """Show the readings; a POST stores one typed in, or lines pasted."""
    typed = ReadingForm(prefix="one", initial={"on": clock.today()})
    pasted = PastedForm(prefix="many")
    bound: NurseryForm | None = None
    if request.method == "POST":
        if request.POST.get("deed") == "paste":
            bound = pasted = PastedForm(request.POST, prefix="many")
        else:
            bound = typed = ReadingForm(request.POST, prefix="one")
        stored = _store(bound) if bound.is_valid() else None
        if stored is not None:
            messages.success(request, stored.message)
            return redirect("batches:readings")
    found = HouseReading.objects.select_related("house").order_by("-on", "house__code", "id")
    context = {
        "page": Paginator(found, READINGS_A_PAGE).get_page(request.GET.get("page")),
        "typed": typed,
        "pasted": pasted,
        "no_house": not House.objects.exists(),
        "new_href": reverse("batches:houses"),
    }
    return render(request, "batches/readings/page.html", context, status=status_of(bound))


def _store(form: NurseryForm) -> ReadingsStored | None:
    """Store what was typed or pasted; an error goes onto the form with what was typed kept."""
    given, now = form.cleaned_data, clock.now()
    try:
        if isinstance(form, PastedForm):
            lines = read_lines(given["pasted"], day_first=given["day_first"])
            return store_readings(readings=lines, now=now, replace=given["replace"])
        one = Reading(
            house=given["house"],
            on=given["on"],
            lowest_c=given["lowest_c"],
            highest_c=given["highest_c"],
        )
        return store_readings(readings=[one], now=now, replace=given["replace"])
    except NurseryError as error:
        form.refuse(error)
        return None
