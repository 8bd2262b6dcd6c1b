from django.apps import AppConfig


class PlansConfig(AppConfig):
    name = "records.plans"
    label = "records_plans"
