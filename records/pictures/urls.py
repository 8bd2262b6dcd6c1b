from django.urls import path

from records.pictures import views

app_name = "pictures"
urlpatterns = [path("<str:public_id>/", views.picture, name="picture")]
