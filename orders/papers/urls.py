from django.urls import path

from orders.papers import views

urlpatterns = [
    path("claim-slip/<slug:number>/", views.claim_slip, name="print-claim-slip"),
    path("tags/<int:pk>/", views.tags, name="print-tags"),
    path("piece/<int:pk>/", views.piece, name="print-piece"),
    path("lug/<int:pk>/", views.lug, name="print-lug"),
    path("packages/", views.packages, name="print-package"),
    path("box/<int:pk>/", views.box, name="print-box"),
    path("receipt/<int:pk>/", views.receipt, name="print-receipt"),
    path("cut-sheet/<int:pk>/", views.read_back, name="print-read-back"),
    path("yield/<int:pk>/", views.yield_statement, name="print-yield"),
    path("season/", views.season_report, name="season-report"),
    path("register/", views.register, name="print-register"),
    path("places/", views.places, name="print-places"),
    path("stations/", views.stations, name="print-stations"),
    path("badge/<int:pk>/", views.badge, name="print-badge"),
    path("order/<slug:number>/", views.print_order, name="print-order"),
    path("order/<slug:number>/file/", views.print_order_file, name="print-order-file"),
]
