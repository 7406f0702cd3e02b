"""How does a tablet become one of this nursery's?"""

from __future__ import annotations

from http import HTTPStatus

from django.conf import settings
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from batches.core.errors import NurseryError
from batches.services import devices, secrets_of_links
from batches.views import clock
from batches.views.access import for_anyone, tablet_of
from batches.views.noting import note
from batches.views.sign_in import device_of


@for_anyone
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def enrol_typed(request: HttpRequest) -> HttpResponse:
    """Show the field for a code read from the manager's screen, and go to that code's page."""
    code = request.POST.get("code", "")
    context: dict[str, object] = {"code": code, "tablet": tablet_of(request)}
    if request.method == "POST":
        try:
            devices.code_in_time_or_wait(code=code, device=device_of(request), now=clock.now())
        except NurseryError as error:
            context["error"] = error.message
            return render(
                request, "batches/enrol/typed.html", context, status=HTTPStatus.UNPROCESSABLE_ENTITY
            )
        return redirect("batches:enrol", code=secrets_of_links.typed(code))
    return render(request, "batches/enrol/typed.html", context)


@for_anyone
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def enrol(request: HttpRequest, code: str) -> HttpResponse:
    """Show one button; pressing it sets this tablet's cookie and uses the code up."""
    try:
        if request.method == "POST":
            with transaction.atomic():
                enrolled = devices.enrol(code=code, now=clock.now())
                note(request, "tablet enrolled", about=enrolled.device.name)
            answer = render(request, "batches/enrol/done.html", {"tablet": enrolled.device})
            answer.set_cookie(
                settings.NURSERY_DEVICE_COOKIE,
                enrolled.secret,
                max_age=settings.NURSERY_DEVICE_COOKIE_AGE,
                secure=settings.SESSION_COOKIE_SECURE,
                httponly=True,
                samesite="Lax",
            )
            return answer
        found = devices.code_in_time(code=code, now=clock.now())
    except devices.CodeNotUsable as error:
        return render(
            request, "batches/enrol/over.html", {"error": error.message}, status=HTTPStatus.GONE
        )
    return render(request, "batches/enrol/page.html", {"tablet_name": found.tablet_name})
