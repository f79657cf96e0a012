"""Owners' links and pages: a letter that one opens, and a browser at the owners' own address."""

from dataclasses import replace
from datetime import timedelta
from typing import Any

from django.test import Client

from clinic.letters.actions import keep_file
from clinic.letters.document import Document, Photo, Photos, Section, Sentence, from_json, to_json
from clinic.models import Letter, Owner, OwnerLink
from clinic.owner_page.actions import make_link
from clinic.owner_page.secret import secret_of
from clinic.platform.files import keep
from tests import letters
from tests.letters import NOW
from tests.prints import plain_pdf

HOST = "letters.example"
PUBLIC_URL = f"https://{HOST}"


def at_own_address(settings) -> None:
    """Owners have pages."""
    settings.PUBLIC_URL = PUBLIC_URL
    settings.ALLOWED_HOSTS = [*settings.ALLOWED_HOSTS, HOST]


def printed(letter: Letter) -> Letter:
    """With its PDF, as the worker leaves it."""
    content = plain_pdf()
    keep_file(letter=letter, name=keep(content, ".pdf"), size=len(content), pages=2, now=NOW)
    return Letter.objects.get(pk=letter.pk)


def a_letter(case: letters.Case | None = None) -> Letter:
    return printed((case or letters.sore_ear()).freeze())


def copy_of(letter: Letter, *, owner: Owner | None = None, **changes: Any) -> Letter:
    """The next version, its document changed."""
    document = replace(from_json(letter.content), **changes)
    return Letter.objects.create(
        patient=letter.patient,
        record=letter.record,
        owner=owner or letter.owner,
        kind=letter.kind,
        version=letter.version + 1,
        why_again="a value was struck out",
        language=document.language,
        content=to_json(document),
        content_sha256="0" * 64,
        by=letter.by,
        at=letter.at + timedelta(hours=1),
    )


def with_photographs(document: Document, *contents: bytes) -> tuple[Section, ...]:
    """Its sections, and one with these kept photographs."""
    shown = []
    for number, content in enumerate(contents):
        name = keep(content, ".jpg")
        shown.append(
            Photo(
                sha256=name.split("/")[1].removesuffix(".jpg"),
                src=f"/staff-only/{number}",
                alt=f"Photograph {number}",
                caption=Sentence(f"photo:{number}", f"Left ear, {number}.", "a photograph"),
                width=8,
                height=8,
            )
        )
    return (*document.sections, Section("pictures", "Pictures", 45, (Photos(tuple(shown)),)))


def link_to(letter: Letter, *, owner: Owner | None = None, now=NOW, **how: Any) -> OwnerLink:
    return make_link(owner=owner or letter.owner, letter=letter, now=now, **how)


def path_of(link: OwnerLink, rest: str = "") -> str:
    return f"/l/{secret_of(link.pk)}{rest}"


def browser(address: str = "203.0.113.9") -> Client:
    """A telephone somewhere in the world, at the owners' address."""
    return Client(HTTP_HOST=HOST, REMOTE_ADDR=address)
