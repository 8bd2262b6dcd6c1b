"""Addresses. The only place, with the settings, that names both packages."""

from django.urls import include, path

urlpatterns = [
    path("", include("records.reports.urls")),
    path("plans/", include("records.plans.urls")),
    path("burns/", include("records.burns.urls")),
    path("pictures/", include("records.pictures.urls")),
    path("burns/", include("records.capture.urls")),
    path("yard/", include("records.yard.urls")),
    path("store/", include("records.stock.urls")),
    path("units/", include("records.inspections.urls")),
    path("standard/", include("records.standard.urls")),
    path("", include("records.ground.urls")),
    path("", include("records.accounts.urls")),
    path("audit/", include("records.audit.urls")),
]
