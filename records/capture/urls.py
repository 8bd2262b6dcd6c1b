from django.urls import path

from records.capture import views

app_name = "capture"
urlpatterns = [
    path("<str:public_id>/recorded/", views.recorded, name="recorded"),
    path("units/<str:public_id>/fires/", views.fires, name="fires"),
    path("units/<str:public_id>/fires/fit/", views.fit, name="fit"),
    path("<str:public_id>/recorded/take/", views.take, name="take"),
    path("recorded/<str:public_id>/file/", views.original, name="original"),
]
