"""To settle: what the bench sent and the records contradict."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from batches.core.errors import NurseryError
from batches.forms.to_settle import CorrectForm
from batches.models import ToSettle
from batches.services.settling import settle, settled_lately, waiting_to_be_settled, words_of_item
from batches.services.taking import take_it
from batches.templatetags.frond import in_words
from batches.views import clock
from batches.views.access import for_managers
from batches.views.form_page import form_page


@for_managers
@require_http_methods(["GET", "POST"])
def to_settle(request: HttpRequest) -> HttpResponse:
    """Show what waits; a POST takes one of them as it is, or leaves it out."""
    if request.method == "POST":
        try:
            messages.success(request, _settled(request))
        except (ValueError, KeyError):
            messages.error(request, "That could not be read. Nothing was changed.")
        except NurseryError as error:
            messages.error(request, error.message)
        return redirect("batches:to-settle")
    context = {"waiting": waiting_to_be_settled(), "settled": settled_lately()}
    return render(request, "batches/to_settle/page.html", context)


@for_managers
@require_http_methods(["GET", "POST"])
def correct(request: HttpRequest, item_id: UUID) -> HttpResponse:
    """Show what an item says in a form; a POST takes it as it was put right."""
    matter = get_object_or_404(ToSettle.objects.open(), pk=item_id)
    form = CorrectForm(request.POST or None, matter=matter)
    if request.method == "POST" and form.is_valid():
        try:
            words = take_it(
                item_id=item_id,
                by=request.user.get_username(),
                now=clock.now(),
                changed=form.changed(),
                at=form.happened_at,
            )
        except NurseryError as error:
            form.refuse(error)
        else:
            messages.success(request, f"Settled. {words}")
            return redirect("batches:to-settle")
    return form_page(
        request, form, title="Put it right", submit="Take it so",
        crumbs=[("To settle", "/to-settle/"), ("Put it right", "")],
        lead=f"{in_words(words_of_item(matter.item))} {in_words(matter.reason)}",
    )  # fmt: skip


def _settled(request: HttpRequest) -> str:
    """Settle one item and return what was done; the errors of `to_settle`."""
    item_id = UUID(request.POST.get("item", ""))
    by, now = request.user.get_username(), clock.now()
    how = request.POST.get("how", "")
    if how == "taken":
        return f"Settled. {take_it(item_id=item_id, by=by, now=now)}"
    if how != "left_out":
        raise KeyError(how)
    settle(item_id=item_id, how="left out: it was a mistake", by=by, now=now)
    return "Left out. What was sent stays readable below."
