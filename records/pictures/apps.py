from django.apps import AppConfig


class PicturesConfig(AppConfig):
    name = "records.pictures"
    label = "records_pictures"
