from django.apps import AppConfig


class PreventiveConfig(AppConfig):
    name = "preventive"
    urls = "preventive.urls"
    public_urls = "preventive.public_urls"

    def ready(self) -> None:
        """Plug this room into the registries of clinic."""
        from preventive.plugs import register

        register()
