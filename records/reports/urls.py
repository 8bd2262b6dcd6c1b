from django.urls import path

from records.reports import (
    calendar_views,
    count_sheets,
    disposal_views,
    engineer_views,
    history_views,
    label_views,
    outlook_views,
    paper_views,
    recall_views,
    standard_views,
    trace_views,
    views,
)

app_name = "reports"
urlpatterns = [
    path("", views.day_sheet, name="day_sheet"),
    path("units/<str:public_id>/history/", history_views.unit_history_page, name="unit_history"),
    path(
        "units/<str:public_id>/history.pdf", history_views.unit_history_pdf, name="unit_history_pdf"
    ),
    path("units/<str:public_id>/engineer.pdf", engineer_views.engineer_pdf, name="engineer_pdf"),
    path("units/<str:public_id>/evidence.zip", history_views.evidence, name="evidence"),
    path("units/<str:public_id>/papers/", paper_views.papers, name="papers"),
    path("papers/<str:public_id>/", paper_views.paper, name="paper"),
    path("papers/<str:public_id>/document.pdf", paper_views.document, name="paper_pdf"),
    path("papers/<str:public_id>/evidence.zip", paper_views.evidence, name="paper_evidence"),
    path("calendar/", calendar_views.calendar, name="calendar"),
    path("calendar/feed/new/", calendar_views.feed_new, name="feed_new"),
    path("calendar/feed/end/", calendar_views.feed_end, name="feed_end"),
    path("calendar/feed/<str:key>.ics", calendar_views.feed, name="feed"),
    path("store/outlook/", outlook_views.outlook, name="outlook"),
    path("audit/retention/", disposal_views.retention, name="retention"),
    path("audit/retention/<str:kind>/order/", disposal_views.disposal_new, name="disposal_new"),
    path("audit/disposals/<str:public_id>/", disposal_views.disposal, name="disposal"),
    path(
        "audit/disposals/<str:public_id>/carry-out/",
        disposal_views.carry_out,
        name="disposal_carry_out",
    ),
    path("plans/<str:public_id>/plan.pdf", views.plan_pdf, name="plan_pdf"),
    path("store/lots/<str:public_id>/labels/", label_views.labels, name="labels"),
    path("store/lots/<str:public_id>/labels.pdf", label_views.labels_pdf, name="labels_pdf"),
    path("burns/<str:public_id>/burn.pdf", views.burn_pdf, name="burn_pdf"),
    path("standard/editions/<str:public_id>/plans/", standard_views.open_plans, name="open_plans"),
    path("standard/editions/<str:public_id>/past/", standard_views.rejudge, name="rejudge"),
    path(
        "store/stocktakes/<str:public_id>/sheet.pdf",
        count_sheets.count_sheet_pdf,
        name="count_sheet_pdf",
    ),
    path("store/trace/", trace_views.trace, name="trace"),
    path("store/recalls/", recall_views.recalls, name="recalls"),
    path("store/recalls/new/", recall_views.recall_new, name="recall_new"),
    path("store/recalls/<str:public_id>/", recall_views.recall, name="recall"),
    path("store/recalls/<str:public_id>/lift/", recall_views.lift, name="recall_lift"),
    path("store/recalls/<str:public_id>/notice.pdf", recall_views.notice, name="recall_pdf"),
    path("workings/", views.workings, name="workings"),
    path("workings/<str:name>/", views.working, name="working"),
]
