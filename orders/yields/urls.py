from django.urls import path

from orders.yields import views

urlpatterns = [
    path("yields/", views.yields, name="yields"),
    path("yields/<int:pk>/", views.yield_detail, name="yield-detail"),
]
