"""From a secret to what it opens: the one place that asks, with one answer for whatever does not open."""

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.http import Http404

from clinic.letters.document import Document, Photo, Photos, from_json
from clinic.letters.models import Letter
from clinic.owner_page.actions import address_of, may_read
from clinic.owner_page.models import OwnerLink
from clinic.owner_page.secret import SHAPE, hash_of
from clinic.patients.models import Ownership
from clinic.people.actor import Actor
from clinic.people.models import Owner
from clinic.people.rights import Right
from clinic.visits.models import NextVisit


def link_of_secret(secret: str, *, now: datetime) -> OwnerLink | None:
    """None for an unknown, an expired and a revoked one alike. One query whatever it is."""
    known = SHAPE.fullmatch(secret) is not None
    link = (
        OwnerLink.objects.select_related("owner", "letter__patient", "message__reminder", "message__owner")
        .filter(token_hash=hash_of(secret if known else ""))
        .first()
    )
    return link if link is not None and link.stands(now) else None


def access_link(link_id: UUID, *, actor: Actor) -> OwnerLink:
    """For staff. 404 when there is none."""
    actor.require(Right.SEE)
    link = OwnerLink.objects.select_related("owner", "letter").filter(pk=link_id).first()
    if link is None:
        raise Http404
    return link


def access_reader(letter: Letter, owner_id: str) -> Owner:
    """Whom it was written to, or an owner of the patient now. 404 for anybody else."""
    owner = Owner.objects.filter(pk=owner_id).first() if owner_id.isascii() and owner_id.isdigit() else None
    if owner is None or not may_read(letter, owner):
        raise Http404
    return owner


def letters_behind(letter: Letter) -> tuple[Letter, ...]:
    """The letter's versions that were written to the same owner, newest first. One query.

    A corrected copy replaces what its reader has; one written to somebody else is not theirs to read.
    """
    same = Letter.objects.filter(
        record=letter.record_id, kind=letter.kind, number=letter.number, owner=letter.owner_id
    )
    rows = same if letter.record_id else Letter.objects.filter(pk=letter.pk)
    return tuple(rows.select_related("patient", "record", "file").order_by("-version"))


def documents_of(letter: Letter) -> dict[str, Document]:
    """The letter in every language that it exists in, the owner's first.

    Further languages stand beside the letter's own content, under `also`, by their code.
    """
    found = {letter.language: from_json(letter.content)}
    also = letter.content.get("also", {})
    return found | {language: from_json(content) for language, content in also.items()}


def photographs_of(document: Document) -> tuple[Photo, ...]:
    """Those a clinician chose for the letter and signed with it, in its order; no other is ever shown."""
    return tuple(
        photo
        for section in document.sections
        for block in section.blocks
        if isinstance(block, Photos)
        for photo in block.photos
    )


def agreed_now(letter: Letter, *, today: date) -> tuple[NextVisit, ...]:
    """What was planned at the letter's visit and still stands, from today on. One query."""
    if letter.record_id is None or letter.patient.deceased_on is not None:
        return ()
    plans = NextVisit.objects.filter(record=letter.record_id, on__gte=today)
    return tuple(plans.exclude(state=NextVisit.State.CANCELLED).order_by("on", "at", "pk"))


@dataclass(frozen=True)
class LinkRow:
    """One link as staff see it. `address`: empty where it opens nothing, or cannot be told again."""

    link_id: str
    owner: str
    how: str
    made_at: datetime
    until: datetime
    address: str
    stands: bool
    ended: str


@dataclass(frozen=True)
class ReaderRow:
    """An owner for whom a link may be made, or to whom the letter may be sent."""

    owner_id: int
    name: str
    email: str
    wants_mail: bool
    has_mail: bool


def links_of(letter: Letter, *, now: datetime) -> tuple[LinkRow, ...]:
    """Of all its copies, newest first: each opens the newest. One query."""
    copies = Letter.objects.filter(record=letter.record_id, kind=letter.kind, number=letter.number)
    if letter.record_id is None:
        copies = Letter.objects.filter(pk=letter.pk)
    rows = OwnerLink.objects.filter(letter__in=copies)
    rows = rows.select_related("owner", "made_by", "revoked_by", "message")
    return tuple(_row(each, now) for each in rows)


def _row(link: OwnerLink, now: datetime) -> LinkRow:
    by = link.made_by.full_name if link.made_by else ""
    how = f"in the mail to {link.message.to_address}" if link.message else f"to hand over, by {by}"
    stands = link.stands(now)
    ended = ""
    if link.revoked_at and link.revoked_by:
        ended = f"revoked by {link.revoked_by.full_name}"
    elif not stands:
        ended = "expired"
    address = address_of(link) if stands else ""
    return LinkRow(str(link.pk), link.owner.name, how, link.made_at, link.expires_at, address, stands, ended)


def readers_of(letter: Letter) -> tuple[ReaderRow, ...]:
    """Whom it was written to, then the patient's other owners of now. Two queries."""
    owners = {letter.owner_id: letter.owner}
    now_theirs = Ownership.objects.filter(patient=letter.patient_id, until=None).select_related("owner")
    owners |= {each.owner_id: each.owner for each in now_theirs.order_by("-is_first", "pk")}
    carried = set(letter.messages.exclude(owner=None).values_list("owner", flat=True))
    return tuple(
        ReaderRow(
            owner_id=owner.pk,
            name=owner.name,
            email=owner.email,
            wants_mail=owner.letters_by != Owner.LettersBy.PAPER,
            has_mail=owner.pk in carried,
        )
        for owner in owners.values()
    )
