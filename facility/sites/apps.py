from django.apps import AppConfig


class SitesConfig(AppConfig):
    name = "facility.sites"
    label = "facility_sites"
