"""Everything between a started database and started programs, in one process to be quick."""

import hashlib
import sys
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.staticfiles.finders import get_finders
from django.core.management import call_command, get_commands
from django.core.management.base import BaseCommand


class Command(BaseCommand):
    help = "Migrates, collects changed static files, lays out the demo clinic if nobody is there yet."

    def handle(self, *args: Any, **options: Any) -> None:
        # our own output is what the demo says about its people; the rest of the talk goes to stderr
        call_command("migrate", interactive=False, verbosity=0, stdout=sys.stderr)
        collect_static_files()
        if settings.LAY_DEMO and "demo" in get_commands():
            call_command("demo", if_empty=True, stdout=self.stdout)


def collect_static_files() -> None:
    """Collect and compress the static files, unless the ones collected are those of now."""
    stamp = Path(settings.STATIC_ROOT) / ".collected"
    now = _fingerprint()
    if stamp.exists() and stamp.read_text() == now:
        return
    call_command("collectstatic", interactive=False, verbosity=0, clear=True)
    stamp.write_text(now)


def _fingerprint() -> str:
    """SHA-256 over name, size and time of change of every static file."""
    digest = hashlib.sha256()
    for finder in get_finders():
        for name, storage in finder.list([]):
            stat = Path(storage.path(name)).stat()
            digest.update(f"{name}\0{stat.st_size}\0{stat.st_mtime_ns}\n".encode())
    return digest.hexdigest()
