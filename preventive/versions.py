"""The protocol in force: files and the clinic's choices, composed; kept as a version once it was used."""

from collections.abc import Mapping
from datetime import datetime
from functools import lru_cache

from django.db.models import Subquery

from clinic.platform.models import ClinicDetails, DataVersion
from preventive.protocol import Overrides, Protocol, load_protocol
from preventive.protocol_models import ProtocolEdition


def protocol_in_force() -> Protocol:
    """Composed from the files, the practice's place and its newest edition. One query, no writing."""
    return composed(*place_and_choices())


def place_and_choices() -> tuple[str, dict[str, str]]:
    """The practice's place, and its answer to each question: the newest edition's. One query."""
    newest = ProtocolEdition.objects.order_by("-number").values("settings")[:1]
    row = (
        ClinicDetails.objects.filter(pk=1)
        .annotate(edition=Subquery(newest))
        .values_list("jurisdiction", "settings", "edition")
        .first()
    )
    place, details, edition = row or ("", {}, None)
    chosen = details if edition is None else edition
    known = _settings()
    return place, {code: str(option) for code, option in chosen.items() if code in known}


def composed(place: str, chosen: Mapping[str, str]) -> Protocol:
    """Raises ProtocolError for an option or a place that does not exist."""
    return _composed(place, tuple(sorted(chosen.items())))


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
def _composed(place: str, chosen: tuple[tuple[str, str], ...]) -> Protocol:
    return load_protocol(overrides=Overrides(dict(chosen), place))


@lru_cache(maxsize=1)
def _settings() -> frozenset[str]:
    return frozenset(setting.code for setting in load_protocol().settings)
