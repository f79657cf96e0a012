"""The signing page as plain values: what is missing and can be answered in place, what else is open."""

from dataclasses import dataclass

from clinic.patients.models import Measurement
from clinic.people.actor import Actor
from clinic.platform.registries import Missing
from clinic.visits.actions.signing import missing_of
from clinic.visits.checks import HEADS_UP
from clinic.visits.models import Record

WHY_NOT_TAKEN = (
    "would not allow it",
    "too painful",
    "must not be moved",
    "no scale at hand",
    "not needed today",
)
WHY_NOT_TODAY = ("would not allow it", "too painful", "not needed today")


@dataclass(frozen=True)
class Open:
    """One thing that is missing. `how`: excuse, heads-up, or link; `target` is what the form is about."""

    anchor: str
    sentence: str
    shape: str
    how: str
    url: str
    target: str = ""
    blocks: bool = True


@dataclass(frozen=True)
class Signature:
    open: tuple[Open, ...]
    blocking: int
    signed: str
    seal: str


def signature_page(record: Record, *, actor: Actor) -> Signature:
    """For a signed record nothing is missing any more."""
    if record.is_signed:
        return Signature(open=(), blocking=0, signed=record.signed_name, seal=record.seal)
    missing = tuple(_open(each) for each in missing_of(record, actor=actor))
    return Signature(open=missing, blocking=sum(each.blocks for each in missing), signed="", seal="")


def _open(missing: Missing) -> Open:
    code, _colon, target = missing.code.partition(":")
    if code == HEADS_UP:
        return Open(f"{code}-{target}", missing.sentence, "flag", "heads-up", missing.url, target)
    if code in (Measurement.Kind.WEIGHT, Measurement.Kind.BCS):
        return Open(code, missing.sentence, "unseen", "excuse", missing.url, code)
    shape = "abnormal" if missing.blocks else "new"
    return Open(code, missing.sentence, shape, "link", missing.url, blocks=missing.blocks)
