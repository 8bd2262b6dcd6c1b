from django.urls import path

from records.plans import views

app_name = "plans"
urlpatterns = [
    path("", views.plans, name="plans"),
    path("new/", views.new, name="new"),
    path("findings/", views.findings, name="findings"),
    path("propose/", views.propose, name="propose"),
    path("to-issue/", views.to_issue, name="to_issue"),
    path("<str:public_id>/", views.plan, name="plan"),
    path("<str:public_id>/edit/", views.edit, name="edit"),
    path("<str:public_id>/submit/", views.submit, name="submit"),
    path("<str:public_id>/withdraw/", views.withdraw, name="withdraw"),
    path("<str:public_id>/approve/", views.approve, name="approve"),
    path("<str:public_id>/send-back/", views.send_back, name="send_back"),
    path("<str:public_id>/issue/", views.issue, name="issue"),
]
