"""The protocol in force: files and the clinic's choices, composed; kept as a version once it was used."""

import json
from dataclasses import asdict
from datetime import datetime
from functools import lru_cache
from typing import NamedTuple

from django.db.models import Subquery

from clinic.platform.asked import once
from clinic.platform.models import ClinicDetails, DataVersion
from preventive.protocol import Overrides, Protocol, ProtocolError, ValueOverride, load_protocol
from preventive.protocol_models import ProtocolEdition


class Choices(NamedTuple):
    """The practice's place, its answer to each question, and its own values, of which a later goes first.

    `lost`: own values and answers (`settings.…`) that no longer fit the protocol's files, so that the
    published ones hold; a clinician is told, and they are kept until somebody takes them back.
    """

    place: str
    settings: dict[str, str]
    values: tuple[ValueOverride, ...]
    lost: tuple[ValueOverride, ...] = ()

    @property
    def kept(self) -> tuple[ValueOverride, ...]:
        """The own values as the next edition stores them, those without a place too."""
        return (*self.values, *(each for each in self.lost if not each.path.startswith(ANSWER)))


ANSWER = "settings."


def protocol_in_force() -> Protocol:
    """Composed from the files, the practice's place and its newest edition. One query, no writing."""
    return composed(place_and_choices())


@once
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
    answers = {code: str(option) for code, option in chosen.items() if code in known}
    return fitting(Choices(place, answers, tuple(ValueOverride(**each) for each in own or ())))


def fitting(choices: Choices) -> Choices:
    """The same, without what a later release of the protocol's files has no place for: that is `lost`.

    One answer or value that vanished must not stop every page. Raises ProtocolError for an unknown place.
    """
    return choices if _composes(choices) else _what_fits(*_key(choices))


@lru_cache(maxsize=8)
def _what_fits(place: str, chosen: tuple[tuple[str, str], ...], own: str) -> Choices:
    """One after the other, as a value may stand inside a table that another one sets."""
    choices = Choices(place, dict(chosen), tuple(ValueOverride(**each) for each in json.loads(own)))
    fits = Choices(choices.place, {}, ())
    composed(fits)
    lost: list[ValueOverride] = []
    for code, option in choices.settings.items():
        wider = fits._replace(settings={**fits.settings, code: option})
        if _composes(wider):
            fits = wider
        else:
            lost.append(ValueOverride(f"{ANSWER}{code}", option, "", ""))
    for each in choices.values:
        wider = fits._replace(values=(*fits.values, each))
        if _composes(wider):
            fits = wider
        else:
            lost.append(each)
    return fits._replace(lost=tuple(lost))


def _composes(choices: Choices) -> bool:
    try:
        composed(choices)
    except ProtocolError:
        return False
    return True


def composed(choices: Choices) -> Protocol:
    """Raises ProtocolError for an option, a place or a value that does not exist."""
    found = _composed(*_key(choices))
    if isinstance(found, ProtocolError):
        raise found
    return found


def _key(choices: Choices) -> tuple[str, tuple[tuple[str, str], ...], str]:
    own = json.dumps([asdict(each) for each in choices.values])
    return choices.place, tuple(sorted(choices.settings.items())), own


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


@lru_cache(maxsize=16)
def _composed(place: str, chosen: tuple[tuple[str, str], ...], own: str) -> Protocol | ProtocolError:
    """An error is kept like an answer: it would be found anew for every page."""
    values = tuple(ValueOverride(**each) for each in json.loads(own))
    try:
        return load_protocol(overrides=Overrides(dict(chosen), place, values))
    except ProtocolError as error:
        return ProtocolError(str(error))


@lru_cache(maxsize=1)
def _settings() -> frozenset[str]:
    return frozenset(setting.code for setting in load_protocol().settings)
