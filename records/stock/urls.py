from django.urls import path

from records.stock import file_views, views

app_name = "stock"
urlpatterns = [
    path("", views.on_hand, name="on_hand"),
    path("products/", views.products, name="products"),
    path("products/new/", views.product_new, name="product_new"),
    path("deliveries/", views.deliveries, name="deliveries"),
    path("deliveries/new/", views.delivery_new, name="delivery_new"),
    path("files/", file_views.files_page, name="files"),
    path("files/<str:kind>/", file_views.file, name="file"),
    path("lists/<str:what>.<str:form>", file_views.export, name="export"),
    path("lots/<str:public_id>/", views.lot, name="lot"),
    path("lots/<str:public_id>/readings/", views.readings, name="readings"),
    path("lots/<str:public_id>/verdict/", views.verdict, name="verdict"),
    path("lots/<str:public_id>/adjust/", views.adjust, name="adjust"),
]
