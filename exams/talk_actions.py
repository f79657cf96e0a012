"""What becomes of the words: forgotten or kept at the signature, deleted later, learnt from."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.models import Record
from exams.errors import ExamError
from exams.models import Exam, HeardItem, SpokenForm, TalkChoice, TalkLine, TalkRecording
from exams.queries import standing
from exams.recogniser.sound import forget
from exams.talk_applying import item_of
from exams.talk_items import item_words
from exams.talk_lessons import Decided, lessons, meant
from exams.talk_pages import keeps_words
from exams.versions import composed

K, S = SpokenForm.Kind, SpokenForm.State
LONGEST = 200
PAUSE = "…"  # between words of one thing, where something else was said


class FormRefused(ExamError):
    """A spoken form cannot be taken, or not any more. The text is for the person who asked."""


def close_talk(*, record: Record, now: datetime) -> None:
    """At the signature, the record held: learn, then forget unless the clinic keeps words and the owner
    agreed. Sound that was not listened to yet is deleted in any case."""
    exam = Exam.objects.filter(record=record).first()
    if exam is None or not exam.talk_changes:
        return
    exam.record = record
    _learn(exam, now=now)
    _forget_sound(record)
    if not (keeps_words() and exam.talk_agreed):
        _forget(record)


def _forget_sound(record: Record) -> None:
    for row in TalkRecording.objects.filter(record=record):
        forget(row.file)
    TalkRecording.objects.filter(record=record).delete()


def _forget(record: Record) -> None:
    HeardItem.objects.filter(record=record).delete()
    TalkLine.objects.filter(record=record).delete()


@transaction.atomic
def forget_talk(*, record: Record, actor: Actor) -> int:
    """Delete every word that is kept of a record, signed or not: how many lines there were."""
    actor.require(Right.ASSESS)
    count = TalkLine.objects.filter(record=record).count()
    _forget_sound(record)  # else it would say its lines after all
    _forget(record)
    return count


def _learn(exam: Exam, *, now: datetime) -> None:
    """What was recorded otherwise than it was heard waits for somebody to accept it, by hand."""
    rows = HeardItem.objects.filter(
        exam=exam, state__in=(HeardItem.State.CONFIRMED, HeardItem.State.DISCARDED)
    )
    lines = {str(x.pk): x for x in TalkLine.objects.filter(exam=exam)}
    told = standing(exam)
    for row in rows:
        spoken = [(lines[span[0]], span) for span in row.spans if span[0] in lines]
        words = f" {PAUSE} ".join(x.text[span[1] : span[2]].strip() for x, span in spoken)[:LONGEST]
        if not words:
            continue
        decided = Decided(item_of(row), words, discarded=row.state == HeardItem.State.DISCARDED)
        for each in lessons(decided, told.state, told.walk, told.lines):
            known = SpokenForm.objects.filter(
                language=spoken[0][0].language, kind=each.kind, words__iexact=words, means=each.means
            )
            if not known.exists():
                SpokenForm.objects.create(
                    kind=each.kind,
                    words=words,
                    means=each.means,
                    language=spoken[0][0].language,
                    heard_as=item_words(decided.item, told.walk, told.lines)[:400],
                    recorded_as=each.recorded[:400],
                    noted_at=now,
                )


# ---- Ways of saying something


@transaction.atomic
def accept_form(
    *, form_id: int, kind: str, words: str, means: str, actor: Actor, now: datetime
) -> SpokenForm:
    """Listen for it from now on, as it was put right. Raises FormRefused."""
    actor.require(Right.APPROVE_WALK)
    row = _held(form_id, S.CANDIDATE)
    words, means = " ".join(words.split()), " ".join(means.split())
    if not words or not means or len(words) > LONGEST or len(means) > LONGEST:
        raise FormRefused("Say the words and what they mean, in 200 characters each at most.")
    if kind not in K.values:
        raise FormRefused("Say what kind of thing these words are.")
    if PAUSE in words:
        raise FormRefused(f"Keep the words of one phrase: “{PAUSE}” is where something else was said.")
    means = meant(kind, means, composed())
    if not means:
        raise FormRefused(
            "Say the words that were meant, not a code."
            if kind == K.MISHEARING
            else "Choose what they mean from the list: the walk has nothing of that name."
        )
    twin = SpokenForm.objects.filter(language=row.language, kind=kind, words__iexact=words, means=means)
    if twin.exclude(pk=row.pk).exists():
        raise FormRefused("These words stand in the list already with this meaning.")
    row.kind, row.words, row.means = kind, words, means
    return _decide(row, S.ACCEPTED, actor, now)


@transaction.atomic
def decline_form(*, form_id: int, actor: Actor, now: datetime) -> SpokenForm:
    """Not taken. Raises FormRefused."""
    actor.require(Right.PROPOSE_WALK)
    return _decide(_held(form_id, S.CANDIDATE), S.DECLINED, actor, now)


@transaction.atomic
def withdraw_form(*, form_id: int, actor: Actor, now: datetime) -> SpokenForm:
    """No longer listened for. What was recorded through it stays. Raises FormRefused."""
    actor.require(Right.PROPOSE_WALK)
    return _decide(_held(form_id, S.ACCEPTED), S.WITHDRAWN, actor, now)


def _held(form_id: int, state: str) -> SpokenForm:
    row = SpokenForm.objects.select_for_update().filter(pk=form_id, state=state).first()
    if row is None:
        raise FormRefused("Somebody decided this already.")
    return row


def _decide(row: SpokenForm, state: str, actor: Actor, now: datetime) -> SpokenForm:
    row.state, row.decided_by, row.decided_at = state, actor.staff, now
    row.save()
    return row


def choose_keeping(*, keeps: bool, actor: Actor, now: datetime) -> None:
    """Whether words are kept after the signature, where the owner agreed."""
    actor.require(Right.MANAGE_CLINIC)
    if keeps != keeps_words():
        TalkChoice.objects.create(keeps=keeps, by=actor.staff, at=now)
