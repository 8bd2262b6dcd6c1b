from django.apps import AppConfig


class YardConfig(AppConfig):
    name = "records.yard"
    label = "records_yard"

    def ready(self) -> None:
        from records.burns import counting
        from records.yard import entry_control

        counting.ask(entry_control)
