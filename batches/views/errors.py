"""What does a person read when a page cannot be shown?"""

from __future__ import annotations

import logging
import secrets
import sys
from http import HTTPStatus

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string

from batches.views.no_room import is_no_room, no_room

logger = logging.getLogger("django.request")


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer a request that cannot be read; 400."""
    return render(request, "batches/errors/bad_request.html", status=HTTPStatus.BAD_REQUEST)


def not_allowed(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer somebody whose role does not include a page; 403."""
    return render(request, "batches/errors/not_allowed.html", status=HTTPStatus.FORBIDDEN)


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Answer an address, or a code, that stands for nothing here; 404."""
    return render(request, "batches/errors/not_found.html", status=HTTPStatus.NOT_FOUND)


def went_wrong(request: HttpRequest) -> HttpResponse:
    """Answer after a fault of the program, without the database and without any detail; 500.

    A full disk is no fault of the program: 503, and what to do.
    """
    error = sys.exc_info()[1]
    if error is not None and is_no_room(error):
        return no_room(request, error)
    number = secrets.token_hex(4)
    logger.error("Fault %s at %s %s", number, request.method, request.path)
    text = render_to_string("batches/errors/went_wrong.html", {"number": number})
    return HttpResponse(text, status=HTTPStatus.INTERNAL_SERVER_ERROR)
