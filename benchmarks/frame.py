"""What every benchmark stands in: a database of its own that ends with it, and the program set up on it."""

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))


@contextmanager
def own_database(*, to_disk: bool = False, **also: str) -> Iterator[Any]:
    """Migrated; the temporary cluster itself. `also`: further settings, as the environment has them.

    `to_disk`: a commit must reach the disk, where what it costs is measured.
    """
    from tests import cluster

    if to_disk:
        cluster.FAST = {}
    temporary = cluster.TemporaryCluster()
    os.environ.update(
        DJANGO_SETTINGS_MODULE="clinic.settings",
        DATABASE_URL=temporary.access.owner_url,
        SECRET_KEY="only-for-benchmarks-" + "x" * 50,
        LOG_LEVEL="WARNING",
        VAR_DIR=str(temporary.folder / "var"),
    )
    os.environ.update(also)
    try:
        import django

        django.setup()
        from django.core.management import call_command

        call_command("migrate", verbosity=0)
        yield temporary
    finally:
        temporary.end()
