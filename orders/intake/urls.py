"""Addresses of the counter."""

from django.urls import path

from orders.intake import animal_views, views

urlpatterns = [
    path("", views.home, name="home"),
    path("season/new/", views.season_new, name="season-new"),
    path("orders/", views.orders, name="orders"),
    path("orders/new/", views.order_new, name="order-new"),
    path("orders/<slug:number>/", views.order, name="order"),
    path("orders/<slug:number>/hunter/", views.order_hunter, name="order-hunter"),
    path("orders/<slug:number>/facts/", views.order_facts, name="order-facts"),
    path("orders/<slug:number>/animals/add/", animal_views.animal_add, name="animal-add"),
    path("animals/<int:pk>/", animal_views.animal, name="animal"),
    path("animals/<int:pk>/edit/", animal_views.animal_edit, name="animal-edit"),
    path("animals/<int:pk>/tag/", animal_views.animal_tag, name="animal-tag"),
    path("animals/<int:pk>/tag/filed/", animal_views.animal_tag_filed, name="animal-tag-filed"),
    path("animals/<int:pk>/pieces/add/", animal_views.animal_piece, name="animal-piece"),
    path("animals/<int:pk>/pieces/all/", animal_views.animal_pieces_in, name="animal-pieces-in"),
    path("animals/<int:pk>/hold/", animal_views.hold_open, name="hold-open"),
    path("animals/<int:pk>/end/", animal_views.animal_end, name="animal-end"),
    path("pieces/<int:pk>/weigh/", animal_views.piece_weigh, name="piece-weigh"),
    path("pieces/<int:pk>/void/", animal_views.piece_void, name="piece-void"),
    path("events/<int:pk>/void/", animal_views.event_void, name="event-void"),
    path("holds/", views.holds, name="holds"),
    path("holds/<int:pk>/release/", animal_views.hold_release, name="hold-release"),
]
