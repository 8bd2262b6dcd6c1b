from django.apps import AppConfig


class InspectionsConfig(AppConfig):
    name = "records.inspections"
    label = "records_inspections"
