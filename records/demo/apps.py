from django.apps import AppConfig


class DemoConfig(AppConfig):
    name = "records.demo"
    label = "records_demo"
