"""Which page answers at which address?"""

from __future__ import annotations

from django.urls import path

from batches.views import (
    batches,
    bench_map,
    enrol,
    examinations,
    ferns,
    health,
    houses,
    labels,
    look_over,
    lots,
    media,
    nursery_settings,
    orders,
    people,
    picking,
    readings,
    records,
    search,
    sign_in,
    sow,
    stock_plants,
    today,
    trace,
    tray,
    tray_deeds,
    treatments,
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
    path("p/today/care/<str:code>/<str:care>/", today.care_given, name="today-care"),
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
    # Starting and stocking: /lots/ /sow/ /batches/ /ferns/ /houses/ /benches/ /stock-plants/
    path("lots/", lots.lots, name="lots"),
    path("lots/new/", lots.lot_new, name="lot-new"),
    path("lots/<str:code>/", lots.lot, name="lot"),
    path("sow/", sow.sow, name="sow"),
    path("sow/<str:route>/", sow.sow_route, name="sow-route"),
    path("p/sow/about/", sow.sow_about, name="sow-about"),
    path("batches/", batches.batches, name="batches"),
    path("batches/<str:code>/", batches.batch, name="batch"),
    path("ferns/", ferns.ferns, name="ferns"),
    path("ferns/new/", ferns.fern_new, name="fern-new"),
    path("ferns/<str:code>/", ferns.fern, name="fern"),
    path("ferns/<str:code>/change/", ferns.fern_edit, name="fern-edit"),
    path("ferns/<str:code>/days/", ferns.fern_windows, name="fern-windows"),
    path("houses/", houses.houses, name="houses"),
    path("houses/new/", houses.house_new, name="house-new"),
    path("houses/<str:code>/change/", houses.house_edit, name="house-edit"),
    path("benches/new/", houses.bench_new, name="bench-new"),
    path("benches/<str:code>/", houses.bench, name="bench"),
    path("benches/<str:code>/change/", houses.bench_edit, name="bench-edit"),
    path("stock-plants/", stock_plants.stock_plants, name="stock-plants"),
    path("stock-plants/new/", stock_plants.stock_plant_new, name="stock-plant-new"),
    path("stock-plants/<str:code>/", stock_plants.stock_plant, name="stock-plant"),
    path("stock-plants/<str:code>/change/", stock_plants.stock_plant_edit, name="stock-plant-edit"),
    # /media/ /orders/, the registers: /treatments/ /examinations/ /readings/
    path("media/", media.media, name="media"),
    path("media/new/", media.medium_new, name="medium-new"),
    path("orders/", orders.orders, name="orders"),
    path("orders/new/", orders.order_new, name="order-new"),
    path("orders/<str:code>/close/", orders.order_close, name="order-close"),
    path("treatments/", treatments.treatments, name="treatments"),
    path("treatments/new/", treatments.treatment_new, name="treatment-new"),
    path("treatments/register.csv", treatments.treatments_csv, name="treatments-csv"),
    path("treatments/<uuid:treatment_id>/", treatments.treatment_mend, name="treatment-mend"),
    path("examinations/", examinations.examinations, name="examinations"),
    path("examinations/new/", examinations.examination_new, name="examination-new"),
    path("examinations/record.csv", examinations.examinations_csv, name="examinations-csv"),
    path("readings/", readings.readings, name="readings"),
    # /labels/
    path("labels/", labels.labels, name="labels"),
    # /trace/
    path("trace/", trace.trace_start, name="trace-start"),
    path("trace/<str:code>/", trace.trace, name="trace"),
    # /records/
    path("records/", records.records, name="records"),
    path("records/look/", records.records_preview, name="records-preview"),
    path("records/export/", records.records_export, name="records-export"),
    # /settings/
    path("settings/", nursery_settings.settings, name="settings"),
    # /people/
    path("people/", people.people, name="people"),
    path("people/<int:pk>/link/", people.signin_link, name="person-link"),
    path("people/<int:pk>/stop/", people.stop, name="person-stop"),
    # /health/
    path("health/", health.health, name="health"),
]
