"""Addresses of the cut sheet."""

from django.urls import path

from orders.cutsheets import views

urlpatterns = [
    path("animals/<int:pk>/cuts/", views.cut_sheet, name="cut-sheet"),
    path("animals/<int:pk>/cuts/change/", views.cut_change, name="cut-change"),
]
