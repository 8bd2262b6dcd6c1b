from django.urls import path

from records.audit import views

app_name = "audit"
urlpatterns = [
    path("", views.log, name="log"),
    path("heads/", views.heads_page, name="heads"),
    path("head.txt", views.head_note, name="head_note"),
    path("checker.py", views.checker_file, name="checker"),
    path("consistency.json", views.consistency, name="consistency"),
    path("<int:seq>/proof.json", views.proof, name="proof"),
    path("restored/", views.restored, name="restored"),
    path("receipts/<str:public_id>/", views.receipt, name="receipt"),
]
