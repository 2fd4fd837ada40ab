from django.urls import include, path

from orders.custody import views

urlpatterns = [
    path("find/", views.find, name="find"),
    path("trail/<slug:code>/", views.trail, name="trail"),
    path("register/", views.register, name="register"),
    path("print/", include("orders.papers.urls")),
]
