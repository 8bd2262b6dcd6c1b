from django.apps import AppConfig


class StockConfig(AppConfig):
    name = "records.stock"
    label = "records_stock"
