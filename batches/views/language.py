"""In which language does whoever signed in read the pages?"""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.db import DatabaseError
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import translation
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

from batches.models import Person
from batches.services.language import LANGUAGES
from batches.services.own_settings import own_setting
from batches.views.access import for_hands


class PersonsLanguage:
    """Shows pages in the language of the person; to tablets and strangers in the nursery's.

    Nothing is negotiated with the browser: a shared tablet would change its words with every
    guest, and files keep their decimal points whatever somebody reads.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        user = request.user
        language = user.language if isinstance(user, Person) else _nurserys_language()
        with translation.override(language if language in LANGUAGES else next(iter(LANGUAGES))):
            return self.get_response(request)


def _nurserys_language() -> str:
    """Return the language the nursery set; that of the texts while its records cannot be read."""
    try:
        return str(own_setting("language"))
    except DatabaseError:
        return ""


@for_hands
@require_POST
def my_language(request: HttpRequest) -> HttpResponse:
    """Keep the language that somebody chose, and go back to the page they read."""
    language = request.POST.get("language", "")
    if language in LANGUAGES:
        Person.objects.filter(name=request.user.get_username()).update(language=language)
    else:
        messages.error(request, "That language is not known here. Nothing was changed.")
    back = request.POST.get("back", "")
    if url_has_allowed_host_and_scheme(back, allowed_hosts=None):
        return redirect(back)
    return redirect(reverse("batches:today"))
