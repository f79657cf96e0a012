"""The protocol in force: files and the clinic's choices, composed; kept as a version once it was used."""

from datetime import datetime
from functools import lru_cache

from clinic.platform.models import ClinicDetails, DataVersion
from preventive.protocol import Overrides, Protocol, load_protocol


def protocol_in_force() -> Protocol:
    """Composed from the files and the clinic's own choices. One query, no writing."""
    row = ClinicDetails.objects.filter(pk=1).values_list("jurisdiction", "settings").first()
    place, settings = row or ("", {})
    known = _settings()
    chosen = tuple(sorted((code, str(option)) for code, option in settings.items() if code in known))
    return _composed(place, chosen)


def keep_version(protocol: Protocol, *, now: datetime) -> DataVersion:
    """The immutable row of this protocol, found by its SHA-256 or added."""
    # the body is long and not read here
    found = DataVersion.objects.defer("body").filter(sha256=protocol.sha256).first()
    if found is not None:
        return found
    row, _ = DataVersion.objects.get_or_create(
        sha256=protocol.sha256,
        defaults={"kind": DataVersion.Kind.PROTOCOL, "body": dict(protocol.data), "composed_at": now},
    )
    return row


@lru_cache(maxsize=8)
def _composed(place: str, chosen: tuple[tuple[str, str], ...]) -> Protocol:
    return load_protocol(overrides=Overrides(dict(chosen), place))


@lru_cache(maxsize=1)
def _settings() -> frozenset[str]:
    return frozenset(setting.code for setting in load_protocol().settings)
