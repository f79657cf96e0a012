from django.apps import AppConfig


class PreventiveConfig(AppConfig):
    name = "preventive"
    urls = "preventive.urls"

    def ready(self) -> None:
        """Plug this room into the registries of clinic."""
        from preventive.plugs import register

        register()
