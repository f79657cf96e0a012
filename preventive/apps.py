from django.apps import AppConfig


class PreventiveConfig(AppConfig):
    name = "preventive"
