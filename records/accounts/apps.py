from django.apps import AppConfig


class AccountsConfig(AppConfig):
    name = "records.accounts"
    label = "records_accounts"
