from django.apps import AppConfig


class ClinicConfig(AppConfig):
    name = "clinic"
