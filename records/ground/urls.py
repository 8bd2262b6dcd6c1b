from django.urls import path

from records.ground import views

app_name = "ground"
urlpatterns = [
    path("choose-ground/", views.choose_ground, name="choose_ground"),
    path("choose-units/", views.choose_units, name="choose_units"),
    path("people/", views.people, name="people"),
    path("people/new/", views.person_new, name="person_new"),
    path("people/<str:public_id>/roles/new/", views.role_new, name="role_new"),
]
