from django.urls import path

from records.inspections import views

app_name = "inspections"
urlpatterns = [
    path("", views.units, name="units"),
    path("<str:public_id>/", views.unit, name="unit"),
    path("<str:public_id>/inspect/", views.inspect, name="inspect"),
    path("<str:public_id>/stop/", views.stop, name="stop"),
    path("defects/<str:public_id>/", views.defect, name="defect"),
    path("defects/<str:public_id>/repair/", views.repair, name="repair"),
    path("defects/<str:public_id>/release/", views.release, name="release"),
]
