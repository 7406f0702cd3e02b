"""Which page answers at which address?"""

from __future__ import annotations

from django.urls import path

from batches.views import (
    bench_map,
    enrol,
    health,
    labels,
    look_over,
    picking,
    search,
    sign_in,
    today,
    trace,
    tray,
    tray_deeds,
)

app_name = "batches"

urlpatterns = [
    # Who is there: /sign-in/, /sign-out/, /my-password/, /enrol/
    path("sign-in/", sign_in.sign_in, name="sign-in"),
    path("sign-in/<str:secret>/", sign_in.sign_in_link, name="sign-in-link"),
    path("sign-out/", sign_in.sign_out, name="sign-out"),
    path("my-password/", sign_in.my_password, name="my-password"),
    path("enrol/", enrol.enrol_typed, name="enrol-typed"),
    path("enrol/<str:code>/", enrol.enrol, name="enrol"),
    # / and its partials
    path("", today.today, name="today"),
    path("p/today/<str:code>/nothing-new/", today.nothing_new, name="today-nothing-new"),
    path("p/today/undo/<uuid:check_id>/", today.undo_look, name="today-undo-look"),
    path("p/today/give/", today.give, name="today-give"),
    # /search/
    path("search/", search.search, name="search"),
    # /bench-map/
    path("bench-map/", bench_map.bench_map, name="bench-map"),
    path("p/bench-map/card/<str:code>/", bench_map.card, name="bench-card"),
    path("p/bench-map/move/", bench_map.move_tray, name="bench-move"),
    path("benches/<str:code>/look-over/", look_over.look_over, name="look-over"),
    # /trays/
    path("t/<str:code>", tray.tray_short, name="tray-short"),
    path("trays/<str:code>/", tray.tray, name="tray"),
    path("trays/<str:code>/strike/<str:table>/<uuid:row_id>/", tray.strike, name="tray-strike"),
    path("trays/<str:code>/prick-out/", picking.pick, {"way": "prick-out"}, name="prick-out"),
    path("trays/<str:code>/patch-out/", picking.pick, {"way": "patch-out"}, name="patch-out"),
    path("trays/<str:code>/pot-up/", picking.pick, {"way": "pot-up"}, name="pot-up"),
    path("trays/<str:code>/pot-on/", picking.pick, {"way": "pot-on"}, name="pot-on"),
    path("trays/<str:code>/deed/<str:what>/", tray_deeds.deed, name="tray-deed"),
    path("trays/<str:code>/do/<str:what>/", tray_deeds.small_deed, name="tray-small-deed"),
    path("laid-out/<str:code>/", picking.laid_out, name="laid-out"),
    path("laid-out/<str:code>/hand-back/", picking.give_back, name="give-back"),
    path("photos/<uuid:photo_id>/", tray.photo, name="photo"),
    # /labels/
    path("labels/", labels.labels, name="labels"),
    # /trace/
    path("trace/", trace.trace_start, name="trace-start"),
    path("trace/<str:code>/", trace.trace, name="trace"),
    # /health/
    path("health/", health.health, name="health"),
]
