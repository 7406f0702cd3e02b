"""Which app answers at which address?"""

from __future__ import annotations

from django.urls import include, path

handler400 = "batches.views.errors.bad_request"
handler403 = "batches.views.errors.not_allowed"
handler404 = "batches.views.errors.not_found"
handler500 = "batches.views.errors.went_wrong"

urlpatterns = [path("", include("batches.urls"))]
