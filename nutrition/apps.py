from django.apps import AppConfig


class NutritionConfig(AppConfig):
    name = "nutrition"
    urls = "nutrition.urls"

    def ready(self) -> None:
        """Plug this room into the registries of clinic."""
        from nutrition.plugs import plug_in

        plug_in()
