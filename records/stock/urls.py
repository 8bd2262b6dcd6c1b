from django.urls import path

from records.stock import receiving_views, views

app_name = "stock"
urlpatterns = [
    path("", views.on_hand, name="on_hand"),
    path("products/", views.products, name="products"),
    path("products/new/", views.product_new, name="product_new"),
    path("deliveries/", receiving_views.deliveries, name="deliveries"),
    path("deliveries/new/", receiving_views.delivery_new, name="delivery_new"),
    path("deliveries/<str:public_id>/", receiving_views.delivery, name="delivery"),
    path(
        "deliveries/<str:public_id>/picture/",
        receiving_views.docket_picture,
        name="docket_picture",
    ),
    path("lots/<str:public_id>/marks/", receiving_views.marks, name="marks"),
    path("lots/<str:public_id>/weigh/", receiving_views.weigh, name="weigh"),
    path("lots/<str:public_id>/density/", receiving_views.explain, name="explain"),
    path("lots/<str:public_id>/", views.lot, name="lot"),
    path("lots/<str:public_id>/readings/", views.readings, name="readings"),
    path("lots/<str:public_id>/verdict/", views.verdict, name="verdict"),
    path("lots/<str:public_id>/adjust/", views.adjust, name="adjust"),
]
