"""The bench page: a shell that is the same for everybody, and the day that fills it."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.shortcuts import render
from django.utils.cache import get_conditional_response
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from batches.services.bench_day import bench_day, fingerprint
from batches.views import clock
from batches.views.access import answers_json, for_tablets
from batches.views.service_worker import MODULES


@for_tablets
@require_GET
def bench_page(request: HttpRequest) -> HttpResponse:
    """Show the shell: no names, no trays and no token, so that a tablet may keep it."""
    return render(request, "batches/bench/page.html", {"modules": MODULES})


@for_tablets
@answers_json
@never_cache
@require_GET
def day(request: HttpRequest) -> HttpResponseBase:
    """Answer with the day; 304 to a tablet that holds just this day already."""
    now = clock.now()
    content = bench_day(today=clock.today(), now=now)
    etag = f'"{fingerprint(content)}"'
    answer = JsonResponse({"server_time": now.isoformat()} | content)
    answer["ETag"] = etag
    return get_conditional_response(request, etag=etag, response=answer) or answer
