from django.urls import path

from records.audit import views

app_name = "audit"
urlpatterns = [
    path("", views.log, name="log"),
    path("receipts/<str:public_id>/", views.receipt, name="receipt"),
]
