"""What kind of request do the pages get?"""

from __future__ import annotations

from django.http import HttpRequest
from django_htmx.middleware import HtmxDetails


class HtmxRequest(HttpRequest):
    """A request as django-htmx's middleware hands it on."""

    htmx: HtmxDetails
