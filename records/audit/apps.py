from django.apps import AppConfig


class AuditConfig(AppConfig):
    name = "records.audit"
    label = "records_audit"
