"""Links for owners: made for one owner, revoked for good. Who holds the address reads what it opens."""

from datetime import datetime, timedelta
from uuid import uuid4

from django.conf import settings
from django.db import transaction

from clinic.letters.models import Letter, LetterFile
from clinic.letters.tasks_queue import queue_rendering
from clinic.mail.models import Message
from clinic.owner_page.models import OwnerLink
from clinic.owner_page.secret import hash_of, secret_of
from clinic.patients.models import Ownership
from clinic.people.actor import Actor
from clinic.people.models import Owner, Staff
from clinic.people.rights import Right

LIFETIME = timedelta(days=181)  # half a year


class NoPublicAddress(Exception):
    """PUBLIC_URL is not set: owners reach no page of ours, so no link is made."""


class NotTheirs(Exception):
    """The owner is neither whom the letter was written to nor an owner of the patient."""


class Revoked(Exception):
    """It was revoked before."""


@transaction.atomic
def make_letter_link(*, letter: Letter, owner: Owner, actor: Actor, now: datetime) -> OwnerLink:
    """A link that staff hand over, by any way they like.

    Raises NoPublicAddress, NotTheirs. After a death it is a clinician's to make; a condolence has none.
    """
    actor.require(Right.SEND_LETTER)
    if letter.patient.deceased_on is not None:
        actor.require(Right.ASSESS)
    if letter.kind == Letter.Kind.CONDOLENCE or not may_read(letter, owner):
        raise NotTheirs
    if not LetterFile.objects.filter(letter=letter).exists():
        queue_rendering(letter.pk)  # its page offers the PDF
    return make_link(owner=owner, letter=letter, made_by=actor.staff, now=now)


def make_link(
    *,
    owner: Owner,
    now: datetime,
    letter: Letter | None = None,
    message: Message | None = None,
    made_by: Staff | None = None,
    lifetime: timedelta = LIFETIME,
) -> OwnerLink:
    """In the caller's transaction, which has looked whether it may. Raises NoPublicAddress.

    `letter`: what it opens; without one it opens what `message` says to the household. `message`: the mail
    that carries it.
    """
    if not settings.PUBLIC_URL:
        raise NoPublicAddress
    number = uuid4()
    return OwnerLink.objects.create(
        id=number,
        token_hash=hash_of(secret_of(number)),
        owner=owner,
        letter=letter,
        message=message,
        made_at=now,
        made_by=made_by,
        expires_at=now + lifetime,
    )


@transaction.atomic
def revoke_link(*, link: OwnerLink, actor: Actor, now: datetime) -> OwnerLink:
    """From now on it opens nothing. Raises Revoked for a second tap."""
    actor.require(Right.SEND_LETTER)
    changed = OwnerLink.objects.filter(pk=link.pk, revoked_at=None).update(
        revoked_at=now, revoked_by=actor.staff
    )
    if not changed:
        raise Revoked
    return OwnerLink.objects.get(pk=link.pk)


def may_read(letter: Letter, owner: Owner) -> bool:
    """Whom it was written to, and whoever is an owner of the patient now."""
    return owner.pk == letter.owner_id or (
        Ownership.objects.filter(patient=letter.patient_id, owner=owner, until=None).exists()
    )


def link_for_mail(message: Message, *, now: datetime) -> OwnerLink | None:
    """The link that a mail to an owner carries, the same at every attempt; in the caller's transaction.

    None without PUBLIC_URL, for a mail to anybody else, and where staff revoked it and nobody sent the mail
    again since: then the mail does without.
    """
    letter = message.letter
    if not settings.PUBLIC_URL or message.owner is None or letter is None:
        return None
    if letter.kind == Letter.Kind.CONDOLENCE:
        return None
    links = list(message.links.all())
    if standing := next((each for each in links if each.stands(now) and address_of(each)), None):
        return standing
    asked = message.steps.filter(by__isnull=False).order_by("-at", "-pk").values_list("at", flat=True).first()
    if any(each.revoked_at and (asked is None or each.revoked_at >= asked) for each in links):
        return None
    return make_link(owner=message.owner, letter=letter, message=message, made_by=message.made_by, now=now)


def address_of(link: OwnerLink) -> str:
    """The whole address, for whom it was made; empty without PUBLIC_URL, and where the installation's key is
    another one than when it was made (the address that left still opens)."""
    secret = secret_of(link.pk)
    if not settings.PUBLIC_URL or hash_of(secret) != link.token_hash:
        return ""
    return f"{settings.PUBLIC_URL}/l/{secret}"
