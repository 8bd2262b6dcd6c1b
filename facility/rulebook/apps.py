from django.apps import AppConfig


class RulebookConfig(AppConfig):
    name = "facility.rulebook"
    label = "facility_rulebook"
