from django.apps import AppConfig


class ReportsConfig(AppConfig):
    name = "records.reports"
    label = "records_reports"
