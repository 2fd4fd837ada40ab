from django.urls import path

from orders.yields import audit_views, figure_views, views

urlpatterns = [
    path("yields/", views.yields, name="yields"),
    path("yields/<int:pk>/", views.yield_detail, name="yield-detail"),
    path("yields/<int:pk>/cause/", audit_views.cause, name="yield-cause"),
    path("yields/<int:pk>/cause/back/", audit_views.cause_back, name="yield-cause-back"),
    path("yields/audit/", audit_views.audit, name="audit"),
    path("yields/charts/", audit_views.charts, name="yield-charts"),
    path("yields/crew/", audit_views.crew, name="yield-crew"),
    path("yields/learned/", audit_views.learned, name="learned"),
    path("yields/scales/", audit_views.scales, name="scale-checks"),
    path("yields/figures/", figure_views.yield_figures, name="yield-figures"),
    path("yields/figures/<int:pk>/", figure_views.yield_figure, name="yield-figure"),
    path("yields/figures/<int:pk>/published/", figure_views.yield_figure_back, name="yield-figure-back"),
]
