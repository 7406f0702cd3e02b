"""What does a tablet keep of the bench page, to open it while the server is away?"""

from __future__ import annotations

import hashlib
import json

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.templatetags.static import static
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from batches.views.access import for_anyone

#: the page's files; its drawings come with the page itself
FILES = (
    "js/at_bench.js",
    "css/at_bench.css",
    "fonts/regular.woff2",
    "fonts/bold.woff2",
    "fonts/italic.woff2",
    "fonts/bold-italic.woff2",
)


@for_anyone
@never_cache
@require_GET
def service_worker(request: HttpRequest) -> HttpResponse:
    """Send the script that keeps the bench page's files; its cache is named by their hashes."""
    files = [static(name) for name in FILES]
    context = {
        "name": hashlib.sha256("\n".join(files).encode()).hexdigest()[:12],
        "shell": reverse("batches:bench-page"),
        "files": json.dumps(files),
    }
    return render(request, "batches/bench/sw.js", context, content_type="text/javascript")
