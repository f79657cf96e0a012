"""Versions of the factors: composed from the files, kept in an immutable row."""

import json
from datetime import datetime
from functools import cache

from clinic.platform.models import DataVersion
from nutrition.factors import Factors, load


@cache
def composed() -> Factors:
    """The factors a new plan is made with. Read once a process: files change with a release only."""
    return load()


def version_row(*, now: datetime) -> DataVersion:
    """The row of the composed factors, made when it is the first time."""
    factors = composed()
    # the body is long: neither read nor composed where the row stands
    row, _ = DataVersion.objects.defer("body").get_or_create(
        sha256=factors.sha256,
        defaults={
            "kind": DataVersion.Kind.FACTORS,
            "body": lambda: json.loads(factors.to_json()),
            "composed_at": now,
        },
    )
    return row
