"""The media: what was mixed, of which parts, and how it was made clean."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_http_methods

from batches.core.errors import NurseryError
from batches.forms.medium import MediumForm
from batches.models import MediumBatch
from batches.services.media import medium_rows, mix_medium, recipes
from batches.views import clock
from batches.views.access import for_hands
from batches.views.form_page import form_page

MEDIA_A_PAGE = 50
CAUTIONS = (
    (
        "Dry perlite and peat dust harm the lungs: wet the mix, wear a respirator, air the room; "
        "local codes decide."
    ),
    (
        "Potting mixes can carry Legionella: open bags away from your face, glove and wash hands; "
        "the bag's label decides."
    ),
    (
        "Boiling water and steam scald: no closed glass, long sleeves, let it cool covered; your "
        "employer's rules decide."
    ),
)
WAYS = ("steam", "boiling water poured through", "oven", "microwave", "none")


@for_hands
@require_GET
def media(request: HttpRequest) -> HttpResponse:
    """List the mixings, the newest first."""
    found = MediumBatch.objects.all()
    page = Paginator(found, MEDIA_A_PAGE).get_page(request.GET.get("page"))
    context = {
        "page": page,
        "rows": medium_rows(media=list(page.object_list)),
        "recipes": recipes(),
        "new_href": reverse("batches:medium-new"),
    }
    return render(request, "batches/media/page.html", context)


@for_hands
@require_http_methods(["GET", "POST"])
def medium_new(request: HttpRequest) -> HttpResponse:
    """Write down one mixing."""
    initial = {"made_on": clock.today(), "recipe": request.GET.get("recipe", "")}
    form = MediumForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            made = mix_medium(now=clock.now(), **form.cleaned_data)
        except NurseryError as error:
            form.refuse(error)
        else:
            messages.success(request, made.message)
            if made.warning:
                messages.warning(request, made.warning)
            return redirect("batches:media")
    return form_page(
        request,
        form,
        title="New mixing",
        submit="Store the mixing",
        crumbs=[("Media", reverse("batches:media")), ("New mixing", "")],
        lead="One mixing gets one code; trays filled with it lead back to it.",
        cautions=CAUTIONS,
        template="batches/media/new.html",
        recipes=recipes(),
        ways=WAYS,
    )
