"""The protocol in force: files and the clinic's choices, composed; kept as a version once it was used."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import datetime
from functools import lru_cache
from typing import NamedTuple

from django.db.models import Subquery

from clinic.platform.models import ClinicDetails, DataVersion
from preventive.protocol import Overrides, Protocol, ValueOverride, load_protocol
from preventive.protocol_models import ProtocolEdition


class Choices(NamedTuple):
    """The practice's place, its answer to each question, and its own values, of which a later goes first."""

    place: str
    settings: dict[str, str]
    values: tuple[ValueOverride, ...]


def protocol_in_force() -> Protocol:
    """Composed from the files, the practice's place and its newest edition. One query, no writing."""
    return composed(*place_and_choices())


def place_and_choices() -> Choices:
    """What the newest edition says, and before the first one the clinic's details. One query."""
    newest = ProtocolEdition.objects.order_by("-number")
    row = (
        ClinicDetails.objects.filter(pk=1)
        .annotate(edition=Subquery(newest.values("settings")[:1]), own=Subquery(newest.values("values")[:1]))
        .values_list("jurisdiction", "settings", "edition", "own")
        .first()
    )
    place, details, edition, own = row or ("", {}, None, None)
    chosen = details if edition is None else edition
    known = _settings()
    return Choices(
        place,
        {code: str(option) for code, option in chosen.items() if code in known},
        tuple(ValueOverride(**each) for each in own or ()),
    )


def composed(place: str, chosen: Mapping[str, str], values: Sequence[ValueOverride] = ()) -> Protocol:
    """Raises ProtocolError for an option, a place or a value that does not exist."""
    own = json.dumps([asdict(each) for each in values])
    return _composed(place, tuple(sorted(chosen.items())), own)


def keep_version(protocol: Protocol, *, now: datetime, approved_by: int | None = None) -> DataVersion:
    """The immutable row of this protocol, found by its SHA-256 or added."""
    # the body is long and not read here
    found = DataVersion.objects.defer("body").filter(sha256=protocol.sha256).first()
    if found is not None:
        return found
    row, _ = DataVersion.objects.get_or_create(
        sha256=protocol.sha256,
        defaults={
            "kind": DataVersion.Kind.PROTOCOL,
            "body": dict(protocol.data),
            "composed_at": now,
            "approved_by_id": approved_by,
        },
    )
    return row


@lru_cache(maxsize=8)
def _composed(place: str, chosen: tuple[tuple[str, str], ...], own: str) -> Protocol:
    values = tuple(ValueOverride(**each) for each in json.loads(own))
    return load_protocol(overrides=Overrides(dict(chosen), place, values))


@lru_cache(maxsize=1)
def _settings() -> frozenset[str]:
    return frozenset(setting.code for setting in load_protocol().settings)
