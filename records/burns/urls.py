from django.urls import path

from records.burns import after_views, before_views, views

app_name = "burns"
urlpatterns = [
    path("", views.burns, name="burns"),
    path("start/<str:public_id>/", views.start, name="start"),
    path("before/<str:public_id>/", before_views.before, name="before"),
    path("before/<str:public_id>/check/", before_views.check, name="check"),
    path("before/<str:public_id>/briefing/", before_views.briefing, name="briefing"),
    path("before/<str:public_id>/roll/", before_views.roll, name="roll"),
    path("before/<str:public_id>/weather/", before_views.weather, name="weather"),
    path("before/<str:public_id>/fit/", before_views.fit, name="fit"),
    path("return/<str:public_id>/", views.return_boards, name="return"),
    path("<str:public_id>/", views.burn, name="burn"),
    path("<str:public_id>/event/", views.event, name="event"),
    path("<str:public_id>/remark/", after_views.remark, name="remark"),
    path("<str:public_id>/countersign/", after_views.countersign, name="countersign"),
    path("<str:public_id>/close/", views.close, name="close"),
    path("<str:public_id>/correct/", views.correct, name="correct"),
]
