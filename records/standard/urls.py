from django.urls import path

from records.standard import exchange_views, listing_views, views, waiver_views

app_name = "standard"
urlpatterns = [
    path("", views.standard, name="standard"),
    path("facts/", views.facts, name="facts"),
    path("editions/new/", views.edition_new, name="edition_new"),
    path("editions/<str:public_id>/", views.edition, name="edition"),
    path("editions/<str:public_id>/rows/new/", views.row_new, name="row_new"),
    path("editions/<str:public_id>/rows/<str:code>/", views.row, name="row"),
    path("editions/<str:public_id>/charts/<str:unit>/", views.chart, name="chart"),
    path("editions/<str:public_id>/checks/new/", listing_views.item_new, name="item_new"),
    path("editions/<str:public_id>/checks/<str:code>/", listing_views.item, name="item"),
    path("editions/<str:public_id>/propose/", views.propose, name="propose"),
    path("editions/<str:public_id>/give-back/", views.give_back, name="give_back"),
    path("editions/<str:public_id>/withdraw/", views.withdraw, name="withdraw"),
    path("editions/<str:public_id>/adopt/", views.adopt, name="adopt"),
    path("editions/<str:public_id>/compare/<str:other>/", exchange_views.compare, name="compare"),
    path("editions/<str:public_id>/import/", exchange_views.read_in, name="import"),
    path("editions/<str:public_id>/export/<str:form>/", exchange_views.export, name="export"),
    path("waivers/", waiver_views.waivers, name="waivers"),
    path("waivers/new/", waiver_views.waiver_new, name="waiver_new"),
    path("waivers/<str:public_id>/grant/", waiver_views.grant, name="grant"),
    path("waivers/<str:public_id>/end/", waiver_views.end, name="end"),
    path("statements/", waiver_views.statements, name="statements"),
    path("statements/new/", waiver_views.statement_new, name="statement_new"),
]
