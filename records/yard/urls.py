from django.urls import path

from records.yard import sync_views, views

app_name = "yard"
urlpatterns = [
    path("", views.yard, name="yard"),
    path("worker.js", views.worker, name="worker"),
    path("manifest.webmanifest", views.manifest, name="manifest"),
    path("hello/", sync_views.hello, name="hello"),
    path("seat/", sync_views.seat, name="seat"),
    path("kit/", sync_views.kit, name="kit"),
    path("sync/", sync_views.sync, name="sync"),
    path("rescue/", views.rescue, name="rescue"),
    path("settle/", views.settle_here, name="settle_here"),
    path("<str:public_id>/", views.recorded, name="recorded"),
    path("<str:public_id>/settle/", views.settle, name="settle"),
    path("<str:public_id>/late/", views.late, name="late"),
]
