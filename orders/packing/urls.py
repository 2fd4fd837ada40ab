"""The addresses of the wrap table, the boxes and the freezer."""

from django.urls import path

from orders.packing.pages import freezer, mend, wrap

urlpatterns = [
    path("floor/wrap/bring/<int:pk>/", wrap.bring, name="floor-bring"),
    path("floor/wrap/<int:pk>/", wrap.run_page, name="floor-wrap"),
    path("floor/wrap/<int:pk>/pack/<int:part_pk>/<int:choice_pk>/", wrap.pack, name="floor-pack"),
    path("floor/wrap/<int:pk>/other/", wrap.other, name="floor-other-cut"),
    path("floor/wrap/<int:pk>/packs/", wrap.packs, name="floor-packs"),
    path("floor/wrap/<int:pk>/done/", wrap.finish, name="floor-wrap-done"),
    path("floor/wrap/<int:pk>/off/<slug:what>/", wrap.off_table, name="floor-off-table"),
    path("floor/packs/<int:pk>/void/", mend.void_pack, name="floor-pack-void"),
    path("floor/runs/<int:pk>/reopen/", mend.reopen, name="floor-reopen"),
    path("floor/orders/<int:pk>/boxes/", freezer.boxes, name="floor-boxes"),
    path("floor/orders/<int:pk>/boxes/new/", freezer.new_box, name="floor-new-box"),
    path("floor/boxes/<int:pk>/", freezer.box, name="floor-box"),
    path("floor/pieces/<int:pk>/store/", freezer.store, name="floor-store"),
]
