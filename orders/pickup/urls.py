from django.urls import path

from orders.billing import views as billing
from orders.pickup import ended_views, views

urlpatterns = [
    path("pickup/", views.pickup, name="pickup"),
    path("orders/<slug:number>/pickup/", views.order_pickup, name="order-pickup"),
    path("orders/<slug:number>/told/", views.order_notify, name="order-notify"),
    path("orders/<slug:number>/close/", views.order_close, name="order-close"),
    path("orders/<slug:number>/reopen/", views.order_reopen, name="order-reopen"),
    path("animals/<int:pk>/haul/", ended_views.animal_haul, name="animal-haul"),
    path("animals/<int:pk>/hand-back/", ended_views.animal_hand_back, name="animal-hand-back"),
    path("orders/<slug:number>/amount/", billing.order_amount, name="order-amount"),
    path("orders/<slug:number>/paid/", billing.order_paid, name="order-paid"),
    path("orders/<slug:number>/unpaid/", billing.order_unpaid, name="order-unpaid"),
]
