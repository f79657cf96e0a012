from django.apps import AppConfig


class ExamsConfig(AppConfig):
    name = "exams"
    urls = "exams.urls"

    def ready(self) -> None:
        """Plug this room into the registries of clinic."""
        from exams import photo_plugs, summary_plugs
        from exams.plugs import register

        register()
        photo_plugs.register()
        summary_plugs.register()
