"""The addresses of the floor's stations up to the grinder."""

from django.urls import path

from orders.floor import views
from orders.floor.pages import block, cooler, grind, put_back, skin

urlpatterns = [
    path("floor/", views.floor, name="floor"),
    path("floor/station/", views.choose_station, name="floor-station"),
    path("floor/scan/", views.scan_code, name="floor-scan"),
    path("floor/skin/start/<int:pk>/", skin.start, name="floor-skin-start"),
    path("floor/skin/<int:pk>/", skin.run_page, name="floor-skin"),
    path("floor/skin/<int:pk>/off/<slug:what>/", skin.take_off, name="floor-take-off"),
    path("floor/skin/<int:pk>/hang/", skin.hang, name="floor-hang"),
    path("floor/runs/<int:pk>/bloodshot/", skin.bloodshot, name="floor-bloodshot"),
    path("floor/animals/<int:pk>/tenderloins/", skin.tenderloins, name="floor-tenderloins"),
    path("floor/animals/<int:pk>/tenderloins/found/", skin.found, name="floor-tenderloins-found"),
    path("floor/runs/<int:pk>/put-back/", put_back.put_back, name="floor-put-back"),
    path("floor/cooler/<int:pk>/", cooler.piece, name="floor-cooler-piece"),
    path("floor/cooler/<int:pk>/weigh/", cooler.weigh_again, name="floor-weigh-again"),
    path("floor/bags/<int:pk>/", cooler.bag, name="floor-bag"),
    path("floor/block/open/<int:pk>/", block.start, name="floor-block-start"),
    path("floor/block/<int:pk>/", block.run_page, name="floor-block"),
    path("floor/block/<int:pk>/lug/", block.lug, name="floor-lug"),
    path("floor/block/<int:pk>/waste/<slug:what>/", block.waste, name="floor-waste"),
    path("floor/block/<int:pk>/weigh/<int:piece_pk>/", block.weigh, name="floor-weigh"),
    path("floor/block/<int:pk>/tag/", block.tag_filed, name="floor-tag"),
    path("floor/block/<int:pk>/requests/<int:request_pk>/", block.answer_request, name="floor-request"),
    path("floor/block/<int:pk>/done/", block.finish, name="floor-block-done"),
    path("floor/events/<int:pk>/take-back/", block.take_back, name="floor-take-back"),
    path("floor/lugs/<int:pk>/take-back/", block.lug_void, name="floor-lug-void"),
    path("floor/grind/start/<int:pk>/", grind.start, name="floor-grind-start"),
    path("floor/grind/<int:pk>/", grind.run_page, name="floor-grind"),
    path("floor/grind/<int:pk>/fat/", grind.fat, name="floor-fat"),
    path("floor/grind/<int:pk>/out/", grind.take_out, name="floor-grind-out"),
    path("floor/grind/<int:pk>/done/", grind.finish, name="floor-grind-done"),
]
