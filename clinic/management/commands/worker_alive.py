"""For health checks: does a worker answer?"""

import sys
from typing import Any

from django.core.management.base import BaseCommand
from django.db import connection

# a worker writes its heartbeat every 10 seconds
SILENT_SECONDS = 45


class Command(BaseCommand):
    help = f"Ends with 1 when no worker has written its heartbeat in the last {SILENT_SECONDS} seconds."

    def handle(self, *args: Any, **options: Any) -> None:
        with connection.cursor() as cursor:
            cursor.execute(
                "SELECT count(*) FROM procrastinate_workers"
                " WHERE last_heartbeat > now() - make_interval(secs => %s)",
                [SILENT_SECONDS],
            )
            row = cursor.fetchone()
        if not row or not row[0]:
            sys.exit(1)
