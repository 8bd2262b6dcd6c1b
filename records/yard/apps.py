from django.apps import AppConfig


class YardConfig(AppConfig):
    name = "records.yard"
    label = "records_yard"
