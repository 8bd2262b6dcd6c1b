from django.apps import AppConfig


class CaptureConfig(AppConfig):
    name = "records.capture"
    label = "records_capture"
