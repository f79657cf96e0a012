"""Django's `migrate`, run as the role that owns the tables."""

from typing import Any

from django.conf import settings
from django.core.management import call_command, get_commands
from django.core.management.commands import migrate
from django.db import DEFAULT_DB_ALIAS, connections

from clinic.platform.roles import grant_rows


class Command(migrate.Command):
    help = (
        "Migrates as the owner role (DATABASE_OWNER_URL) and gives the application role its rights on rows."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        if options["database"] != DEFAULT_DB_ALIAS or settings.DATABASE_OWNER is None:
            super().handle(*args, **options)
            return
        connection = connections[DEFAULT_DB_ALIAS]
        as_application = dict(connection.settings_dict)
        connection.close()
        # a long migration may wait and work for longer than a page may
        connection.settings_dict.update({**settings.DATABASE_OWNER, "OPTIONS": {}})
        try:
            super().handle(*args, **options)
            call_command("createcachetable", verbosity=0)
            grant_rows(connection, as_application["USER"])
        finally:
            connection.close()
            connection.settings_dict.update(as_application)
        in_part = options["app_label"] or options["plan"] or options["check_unapplied"]
        if not in_part and "keep_walk" in get_commands():
            call_command("keep_walk")  # what pages of this release show is there for the next one
