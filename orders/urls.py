"""The addresses of the work, step by step."""

from django.urls import include, path

urlpatterns = [
    path("", include("orders.intake.urls")),
    path("", include("orders.cutsheets.urls")),
    path("", include("orders.floor.urls")),
    path("", include("orders.packing.urls")),
    path("", include("orders.yields.urls")),
    path("", include("orders.pickup.urls")),
    path("", include("orders.custody.urls")),
]
