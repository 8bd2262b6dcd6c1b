from django.urls import path

from records.burns import views

app_name = "burns"
urlpatterns = [
    path("", views.burns, name="burns"),
    path("start/<str:public_id>/", views.start, name="start"),
    path("return/<str:public_id>/", views.return_boards, name="return"),
    path("<str:public_id>/", views.burn, name="burn"),
    path("<str:public_id>/event/", views.event, name="event"),
    path("<str:public_id>/close/", views.close, name="close"),
    path("<str:public_id>/correct/", views.correct, name="correct"),
]
