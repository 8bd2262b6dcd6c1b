from django.urls import path

from records.stock import moisture_views, storage_views, views

app_name = "stock"
urlpatterns = [
    path("", views.on_hand, name="on_hand"),
    path("products/", views.products, name="products"),
    path("products/new/", views.product_new, name="product_new"),
    path("deliveries/", views.deliveries, name="deliveries"),
    path("deliveries/new/", views.delivery_new, name="delivery_new"),
    path("lots/<str:public_id>/", views.lot, name="lot"),
    path("lots/<str:public_id>/adjust/", views.adjust, name="adjust"),
    path("lots/<str:public_id>/readings/", moisture_views.readings, name="readings"),
    path("lots/<str:public_id>/readings/judged/", moisture_views.readings_judged, name="readings_judged"),
    path("lots/<str:public_id>/dried/", moisture_views.dried, name="dried"),
    path("lots/<str:public_id>/verdict/", moisture_views.accept, name="verdict"),
    path("lots/<str:public_id>/condition/", moisture_views.condition, name="condition"),
    path("lots/<str:public_id>/reject/", moisture_views.reject, name="reject"),
    path("lots/<str:public_id>/confirm/", moisture_views.confirm, name="confirm"),
    path("lots/<str:public_id>/hold/", moisture_views.hold, name="hold"),
    path("meters/", moisture_views.meters, name="meters"),
    path("meters/new/", moisture_views.meter_new, name="meter_new"),
    path("meters/<str:public_id>/", moisture_views.meter, name="meter"),
    path("meters/<str:public_id>/calibrate/", moisture_views.calibrate, name="calibrate"),
    path("meters/<str:public_id>/correction/", moisture_views.correction, name="correction"),
    path("bays/", storage_views.bays, name="bays"),
    path("bays/<str:public_id>/", storage_views.bay, name="bay"),
    path("bays/<str:public_id>/climate/", storage_views.climate, name="climate"),
    path("bays/<str:public_id>/climate/file/", storage_views.climate_file, name="climate_file"),
]  # fmt: skip
