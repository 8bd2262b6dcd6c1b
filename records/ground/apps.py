from django.apps import AppConfig


class GroundConfig(AppConfig):
    name = "records.ground"
    label = "records_ground"
