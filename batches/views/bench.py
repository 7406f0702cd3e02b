"""The bench page: a shell that is the same for everybody, and the day that fills it."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import render
from django.utils import translation
from django.utils.cache import get_conditional_response
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from batches.services.bench_day import bench_day, day_said, fingerprint
from batches.services.bench_words import bench_words
from batches.services.own_settings import own_setting
from batches.views import clock
from batches.views.access import answers_json, for_tablets


@for_tablets
@require_GET
def bench_page(request: HttpRequest) -> HttpResponse:
    """Show the shell: no names, no trays and no token, so that a tablet may keep it."""
    language = own_setting("language")
    context = {"words": bench_words(language=language)}
    with translation.override(language):
        return render(request, "batches/bench/page.html", context)


@for_tablets
@answers_json
@never_cache
@require_GET
def day(request: HttpRequest) -> HttpResponseBase:
    """Answer with the day; 304 to a tablet that holds just this day already."""
    now = clock.now()
    content = day_said(bench_day(today=clock.today(), now=now), language=own_setting("language"))
    etag = f'"{fingerprint(content)}"'
    answer = JsonResponse({"server_time": now.isoformat()} | content)
    answer["ETag"] = etag
    return get_conditional_response(request, etag=etag, response=answer) or answer
