from django.apps import AppConfig


class ClinicConfig(AppConfig):
    name = "clinic"

    def ready(self) -> None:
        from clinic.platform import checks  # noqa: F401 - registers itself
