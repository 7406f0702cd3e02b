"""Is the server awake?"""

from __future__ import annotations

from django.http import HttpRequest, JsonResponse
from django.views.decorators.http import require_safe

from batches.views.access import for_anyone


@for_anyone
@require_safe
def health(request: HttpRequest) -> JsonResponse:
    """Answer that pages can be served; asks nothing of the database."""
    return JsonResponse({"ok": True})
