from django.apps import AppConfig


class ClinicConfig(AppConfig):
    name = "clinic"

    def ready(self) -> None:
        from clinic.people import signals  # noqa: F401 - registers itself
        from clinic.platform import checks  # noqa: F401 - registers itself
        from clinic.plugs import plug_in

        plug_in()
