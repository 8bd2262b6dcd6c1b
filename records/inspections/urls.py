from django.urls import path

from records.inspections import inspecting_views, make_up_views, views

app_name = "inspections"
urlpatterns = [
    path("", views.units, name="units"),
    path("new/", make_up_views.unit_new, name="unit_new"),
    path("drawing/", make_up_views.drawing, name="drawing"),
    path("<str:public_id>/", views.unit, name="unit"),
    path("<str:public_id>/inspect/", inspecting_views.inspect, name="inspect"),
    path("<str:public_id>/walls/", inspecting_views.wall, name="walls"),
    path("<str:public_id>/walls/points/", inspecting_views.points, name="points"),
    path("<str:public_id>/calibration/", inspecting_views.calibrate, name="calibrate"),
    path("<str:public_id>/stop/", views.stop, name="stop"),
    path("defects/<str:public_id>/", views.defect, name="defect"),
    path("<str:public_id>/change/", make_up_views.unit_change, name="unit_change"),
    path("<str:public_id>/earlier/", make_up_views.take_over, name="take_over"),
    path("<str:public_id>/make-up/", make_up_views.make_up, name="make_up"),
    path("defects/<str:public_id>/repair/", views.repair, name="repair"),
    path("defects/<str:public_id>/verify/", views.verify, name="verify"),
    path("defects/<str:public_id>/release/", views.release, name="release"),
]
