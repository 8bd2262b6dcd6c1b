from django.apps import AppConfig


class LookConfig(AppConfig):
    name = "facility.look"
    label = "facility_look"
