from django.urls import path

from records.stock import counting_views, moving_views, receiving_views, views, waste_views

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
    path("lots/<str:public_id>/adjust/", counting_views.adjust, name="adjust"),
    path("lots/<str:public_id>/carry/", moving_views.carry, name="carry"),
    path("lots/<str:public_id>/split/", moving_views.split, name="split"),
    path("lots/<str:public_id>/cut/", moving_views.cut, name="cut"),
    path("lots/<str:public_id>/scrap/", moving_views.scrap, name="scrap"),
    path("reserved/", moving_views.reservations, name="reservations"),
    path("reserved/<str:public_id>/release/", moving_views.release, name="release"),
    path("values/", moving_views.values, name="values"),
    path("stocktakes/", counting_views.stocktakes, name="stocktakes"),
    path("stocktakes/new/", counting_views.stocktake_new, name="stocktake_new"),
    path("stocktakes/threshold/", counting_views.count_limits, name="count_limits"),
    path("stocktakes/<str:public_id>/", counting_views.stocktake, name="stocktake"),
    path("stocktakes/<str:public_id>/count/", counting_views.count, name="count"),
    path("stocktakes/<str:public_id>/sign/", counting_views.sign, name="stocktake_sign"),
    path("stocktakes/<str:public_id>/approve/", counting_views.approve, name="stocktake_approve"),
    path("waste/", waste_views.waste, name="waste"),
    path("waste/new/", waste_views.waste_new, name="waste_new"),
    path("waste/<str:public_id>/", waste_views.waste_docket, name="waste_docket"),
    path("waste/<str:public_id>/sign/", waste_views.waste_sign, name="waste_sign"),
]
