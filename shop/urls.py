"""All addresses. This module and the settings are the only ones that name the apps above."""

from django.urls import include, path

from shop import views

urlpatterns = [
    path("login/", views.login, name="login"),
    path("logout/", views.logout, name="logout"),
    path("who/", views.who, name="who"),
    path("devices/", views.devices, name="devices"),
    path("devices/<int:pk>/revoke/", views.revoke_device, name="device-revoke"),
    path("people/", views.people, name="people"),
    path("people/<int:pk>/", views.person, name="person"),
    path("people/<int:pk>/active/", views.person_active, name="person-active"),
    path("people/<int:pk>/badge/", views.person_badge, name="person-badge"),
    path("health/", views.health, name="health"),
    path("", include("orders.urls")),
]
