from django.apps import AppConfig


class PeopleConfig(AppConfig):
    name = "facility.people"
    label = "facility_people"
