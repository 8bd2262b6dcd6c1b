from django.apps import AppConfig
from django.core.checks import Tags, register
from django.db.models.signals import post_migrate


class AuditConfig(AppConfig):
    name = "records.audit"
    label = "records_audit"

    def ready(self) -> None:
        from records.audit.triggers import check_guarded, guard_after_migrate

        post_migrate.connect(guard_after_migrate, sender=self)
        register(check_guarded, Tags.database)
