from django.urls import path

from records.reports import calendar_views, history_views, paper_views, standard_views, views

app_name = "reports"
urlpatterns = [
    path("", views.day_sheet, name="day_sheet"),
    path("units/<str:public_id>/history/", history_views.unit_history_page, name="unit_history"),
    path(
        "units/<str:public_id>/history.pdf", history_views.unit_history_pdf, name="unit_history_pdf"
    ),
    path("units/<str:public_id>/evidence.zip", history_views.evidence, name="evidence"),
    path("units/<str:public_id>/papers/", paper_views.papers, name="papers"),
    path("papers/<str:public_id>/", paper_views.paper, name="paper"),
    path("papers/<str:public_id>/document.pdf", paper_views.document, name="paper_pdf"),
    path("papers/<str:public_id>/evidence.zip", paper_views.evidence, name="paper_evidence"),
    path("calendar/", calendar_views.calendar, name="calendar"),
    path("calendar/feed/new/", calendar_views.feed_new, name="feed_new"),
    path("calendar/feed/end/", calendar_views.feed_end, name="feed_end"),
    path("calendar/feed/<str:key>.ics", calendar_views.feed, name="feed"),
    path("audit/retention/", views.retention, name="retention"),
    path("plans/<str:public_id>/plan.pdf", views.plan_pdf, name="plan_pdf"),
    path("burns/<str:public_id>/burn.pdf", views.burn_pdf, name="burn_pdf"),
    path("standard/editions/<str:public_id>/plans/", standard_views.open_plans, name="open_plans"),
    path("standard/editions/<str:public_id>/past/", standard_views.rejudge, name="rejudge"),
    path("workings/", views.workings, name="workings"),
    path("workings/<str:name>/", views.working, name="working"),
]
