"""Which page answers at which address?"""

from __future__ import annotations

from django.urls import path

from batches.views import enrol, health, sign_in

app_name = "batches"

urlpatterns = [
    # Who is there: /sign-in/, /sign-out/, /my-password/, /enrol/
    path("sign-in/", sign_in.sign_in, name="sign-in"),
    path("sign-in/<str:secret>/", sign_in.sign_in_link, name="sign-in-link"),
    path("sign-out/", sign_in.sign_out, name="sign-out"),
    path("my-password/", sign_in.my_password, name="my-password"),
    path("enrol/", enrol.enrol_typed, name="enrol-typed"),
    path("enrol/<str:code>/", enrol.enrol, name="enrol"),
    # /health/
    path("health/", health.health, name="health"),
]
