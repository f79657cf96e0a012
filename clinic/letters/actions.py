"""Letters: corrected before signing, frozen with the signature, made again when a record is corrected."""

import hashlib
import json
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from clinic.letters.composition import Corrected, compose_all, first_owner, has_died
from clinic.letters.document import Document, Sentence, sentences, to_json
from clinic.letters.models import Correction, Letter, LetterFile, LetterHanded
from clinic.letters.own_words import as_text
from clinic.letters.tasks_queue import queue_rendering
from clinic.letters.texts import SOURCE
from clinic.mail.actions import note_sent, queue_letter
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.models import Record

_refused: ContextVar[str | None] = ContextVar("refused_in_their_time", default=None)


class NoSuchSentence(Exception):
    """The letter has no sentence of that key."""


class EmptyWording(Exception):
    """A sentence cannot be corrected to nothing."""


@contextmanager
def in_their_time(*, refused: str = "") -> Iterator[None]:
    """Letters frozen inside left long ago, each at its `now`: they are noted as sent, nothing is queued.

    For history that is brought in, which is signed by the same action as today's records. `refused`: what
    the other side said where it did not take them.
    """
    token = _refused.set(refused)
    try:
        yield
    finally:
        _refused.reset(token)


def brings_history() -> bool:
    """Whether this is inside `in_their_time`: whoever brings history in reckons what follows from it once."""
    return _refused.get() is not None


@transaction.atomic
def correct_sentence(
    *, actor: Actor, now: datetime, record: Record, sentence: str, words: str, language: str = SOURCE
) -> Correction:
    """Put a sentence into the clinician's own words; the finding behind it stays.

    `language`: of the words. Where the sentence is a text of ours, they are kept as one too, with its
    placeholders, for whoever wants to make them the clinic's wording.

    Raises NoSuchSentence, EmptyWording; the database refuses it once the record is signed.
    """
    actor.require(Right.SIGN)
    words = " ".join(words.split())
    if not words:
        raise EmptyWording
    told = compose_all(record, today=timezone.localdate(now))
    found = _sentence_of(next(iter(told.values())), sentence)
    if found is None:
        raise NoSuchSentence(sentence)
    language = language if language in told else SOURCE
    same = _sentence_of(told[language], sentence)
    earlier = Correction.objects.filter(record=record, sentence=sentence).first()
    correction, _ = Correction.objects.update_or_create(
        record=record,
        sentence=sentence,
        defaults={
            "words": words,
            "by": actor.staff,
            "at": now,
            "first_wording": earlier.first_wording if earlier else found.text,
            "language": language,
            **_as_offered(words, same),
        },
    )
    return correction


def _sentence_of(document: Document, key: str) -> Sentence | None:
    return next((each for each in sentences(document) if each.key == key), None)


def _as_offered(words: str, sentence: Sentence | None) -> dict[str, object]:
    """For the clinic's wording; nothing where it is nobody's text, or says what another language lacks."""
    made = sentence.made_from if sentence and not sentence.lang else None
    if made is None:
        return {"text": "", "form": 0, "offered": "", "not_offered": ""}
    text, why = as_text(words, made)
    return {"text": made.text, "form": made.number, "offered": text, "not_offered": why}


@transaction.atomic
def first_wording_again(*, actor: Actor, now: datetime, record: Record, sentence: str) -> None:
    """Take a correction back."""
    actor.require(Right.SIGN)
    Correction.objects.filter(record=record, sentence=sentence).delete()


def freeze_letter(
    *, actor: Actor, now: datetime, record: Record, again: Corrected | None = None, send: bool = True
) -> Letter:
    """Store the letter's content for ever and queue its PDF and its mail, all in the caller's transaction.

    `send` False stores it as one that was sent in its time: nothing is queued.
    """
    told = compose_all(record, today=timezone.localdate(now), again=again)
    document = next(iter(told.values()))
    letter = _store(told, record, actor, now, again.why if again else "")
    if send:
        _let_go(letter, document, record, actor, now)
    return letter


def freeze_result_letter(
    *,
    actor: Actor,
    now: datetime,
    record: Record,
    told: Mapping[str, Document],
    number: int,
    why_again: str = "",
) -> Letter:
    """A letter that tells results after the visit: stored for ever, and its PDF and mail queued.

    `told`: in each language, the owner's first. `number`: which of the record's result letters; a number that
    stands already makes its next version. The caller holds the record.
    """
    letter = _store(told, record, actor, now, why_again, kind=Letter.Kind.RESULT, number=number)
    _let_go(letter, next(iter(told.values())), record, actor, now)
    return letter


def _let_go(letter: Letter, document: Document, record: Record, actor: Actor, now: datetime) -> None:
    leaves = not has_died(record)  # then nothing is mailed by itself: it is printed, or a clinician writes
    refused = _refused.get()
    if refused is not None:
        if leaves and not note_sent(letter=letter, document=document, refused=refused, actor=actor, now=now):
            note_handed(letter=letter, actor=actor, now=now)
        return
    if leaves:
        queue_letter(letter=letter, document=document, actor=actor, now=now)
    queue_rendering(letter.pk)


@transaction.atomic
def make_file(*, actor: Actor, now: datetime, letter: Letter) -> bool:
    """Queue the PDF of a letter that has none yet. False when its bytes are there, and stay as they are."""
    actor.require(Right.SEND_LETTER)
    if LetterFile.objects.filter(letter=letter).exists():
        return False
    queue_rendering(letter.pk)
    return True


@transaction.atomic
def note_handed(*, letter: Letter, actor: Actor, now: datetime) -> bool:
    """The owner was given it on paper. False when that is known already."""
    actor.require(Right.SEND_LETTER)
    _, new = LetterHanded.objects.get_or_create(letter=letter, defaults={"by": actor.staff, "at": now})
    return new


def _store(
    told: Mapping[str, Document],
    record: Record,
    actor: Actor,
    now: datetime,
    why_again: str,
    *,
    kind: str = Letter.Kind.VISIT,
    number: int = 0,
) -> Letter:
    document, *others = told.values()
    content = to_json(document)
    # frozen at the same moment, for whoever reads it on their page in another language
    content["also"] = {each.language: to_json(each) for each in others if each.language != document.language}
    canonical = json.dumps(content, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    last = Letter.objects.filter(record=record, kind=kind, number=number).order_by("-version").first()
    return Letter.objects.create(
        patient_id=record.visit.patient_id,
        record=record,
        owner=first_owner(record),
        kind=kind,
        number=number,
        version=last.version + 1 if last else 1,
        why_again=why_again[:200],
        language=document.language,
        large_print=document.large_print,
        content=content,
        content_sha256=hashlib.sha256(canonical.encode()).hexdigest(),
        by=actor.staff,
        at=now,
    )


@transaction.atomic
def next_version(*, actor: Actor, now: datetime, record: Record, why: str, send: bool = True) -> Letter:
    """A corrected copy, after an addendum for the owner or a struck value. The earlier one stays."""
    actor.require(Right.SIGN)
    locked = Record.objects.select_for_update().get(pk=record.pk)
    return freeze_letter(
        actor=actor, now=now, record=locked, again=Corrected(why=why, on=timezone.localdate(now)), send=send
    )


def keep_file(*, letter: Letter, name: str, size: int, pages: int, now: datetime) -> LetterFile:
    """Note the PDF's bytes once; a second rendering meets the first's row and changes nothing."""
    kept, _ = LetterFile.objects.get_or_create(
        letter=letter,
        defaults={
            "sha256": name.split("/")[1].split(".")[0],
            "size": size,
            "pages": pages,
            "rendered_at": now,
        },
    )
    return kept
