from django.urls import path

from records.stock import views

app_name = "stock"
urlpatterns = [
    path("", views.on_hand, name="on_hand"),
    path("products/", views.products, name="products"),
    path("products/new/", views.product_new, name="product_new"),
    path("products/<str:public_id>/reorder/", views.reorder, name="reorder"),
    path("deliveries/", views.deliveries, name="deliveries"),
    path("deliveries/new/", views.delivery_new, name="delivery_new"),
    path("lots/<str:public_id>/", views.lot, name="lot"),
    path("lots/<str:public_id>/readings/", views.readings, name="readings"),
    path("lots/<str:public_id>/verdict/", views.verdict, name="verdict"),
    path("lots/<str:public_id>/adjust/", views.adjust, name="adjust"),
]
