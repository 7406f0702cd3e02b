"""Which app answers at which address?"""

from __future__ import annotations

from django.urls import URLResolver, path
from django.urls.resolvers import RoutePattern

from batches.views.health import health

handler400 = "batches.views.errors.bad_request"
handler403 = "batches.views.errors.not_allowed"
handler404 = "batches.views.errors.not_found"
handler500 = "batches.views.errors.went_wrong"

# Not by `include`, which loads every page at once: the server says that it is there first, and
# `serve` has the pages loaded beside.
urlpatterns = [
    path("health/", health, name="health"),
    URLResolver(RoutePattern(""), "batches.urls", app_name="batches", namespace="batches"),
]
