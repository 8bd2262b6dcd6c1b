from django.apps import AppConfig


class StandardConfig(AppConfig):
    name = "records.standard"
    label = "records_standard"
