"""The search box: a code from a scanner opens its thing, any part of a fern's name finds it."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import NoReverseMatch, reverse
from django.views.decorators.http import require_GET

from batches.services.codes import Found
from batches.services.search import find
from batches.views.access import for_hands

#: kind of thing → the URL name of its page
_PAGES = {
    "tray": "tray",
    "batch": "batch",
    "lot": "lot",
    "taxon": "fern",
    "source": "stock-plant",
    "medium": "trace",
    "house": "bench-map",
    "bench": "bench-map",
    "order": "orders",
    "laid_out": "labels",
}


@for_hands
@require_GET
def search(request: HttpRequest) -> HttpResponse:
    """Open what the code stands for, or list what the words may mean."""
    text = request.GET.get("q", "").strip()[:200]
    finds = find(text=text)
    if finds.thing is not None:
        return redirect(_address(finds.thing))
    return render(request, "batches/search/page.html", {"finds": finds, "text": text})


def _address(found: Found) -> str:
    name = f"batches:{_PAGES[found.kind]}"
    if found.kind in {"house", "bench"}:
        return f"{reverse(name)}#{found.kind}-{found.code}"
    if found.kind == "laid_out":
        return f"{reverse(name)}?laid_out={found.code}"
    try:
        return reverse(name, args=[found.code])
    except NoReverseMatch:
        return reverse(name)
