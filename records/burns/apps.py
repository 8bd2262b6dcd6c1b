from django.apps import AppConfig


class BurnsConfig(AppConfig):
    name = "records.burns"
    label = "records_burns"
