"""Which page answers at which address?"""

from __future__ import annotations

from django.urls import path

from batches.views import health

app_name = "batches"

urlpatterns = [
    path("health/", health.health, name="health"),
]
