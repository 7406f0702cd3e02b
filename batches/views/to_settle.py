"""To settle: what the bench sent and the records contradict."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from batches.core.errors import NurseryError
from batches.services.settling import settle, waiting_to_be_settled
from batches.views import clock
from batches.views.access import for_managers

#: what the buttons say → what is noted
WAYS = {"entered": "entered by hand", "left_out": "left out: it was a mistake"}


@for_managers
@require_http_methods(["GET", "POST"])
def to_settle(request: HttpRequest) -> HttpResponse:
    """Show what waits; a POST notes how one of them was settled."""
    if request.method == "POST":
        try:
            item_id = UUID(request.POST.get("item", ""))
            how = WAYS[request.POST.get("how", "")]
            settle(item_id=item_id, how=how, by=request.user.get_username(), now=clock.now())
        except (ValueError, KeyError):
            messages.error(request, "That could not be read. Nothing was changed.")
        except NurseryError as error:
            messages.error(request, error.message)
        else:
            messages.success(request, "Settled.")
        return redirect("batches:to-settle")
    return render(request, "batches/to_settle/page.html", {"waiting": waiting_to_be_settled()})
