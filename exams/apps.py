from django.apps import AppConfig


class ExamsConfig(AppConfig):
    name = "exams"
    urls = "exams.urls"

    def ready(self) -> None:
        """Plug this room into the registries of clinic."""
        from exams.plugs import register

        register()
