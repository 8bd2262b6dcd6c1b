from django.apps import AppConfig
from django.conf import settings
from django.core.exceptions import ImproperlyConfigured


class PeopleConfig(AppConfig):
    name = "facility.people"
    label = "facility_people"

    def ready(self) -> None:
        """Refuse to start with a misspelt role, which would be asked for no second factor."""
        from facility.people.permissions import SIGNS_IN

        unknown = settings.SECOND_FACTOR_ROLES - SIGNS_IN
        if unknown:
            raise ImproperlyConfigured(
                f"CHARLINE_SECOND_FACTOR names no role: {', '.join(sorted(unknown))}. "
                f"The roles are: {', '.join(sorted(SIGNS_IN))}."
            )
