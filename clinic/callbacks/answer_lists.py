"""Owners' answers as plain values for staff."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Case, Count, TextField, Value, When
from django.db.models.functions import Cast, Concat
from django.urls import reverse
from django.utils import timezone

from clinic.callbacks.answer_forms import BookAnswerForm, ElsewhereForm
from clinic.callbacks.answer_models import OF_ANIMALS, Answer
from clinic.callbacks.replying import replies_to
from clinic.mail.models import Message

SHOWN = 60
LATELY = timedelta(days=30)
FIRST = {Answer.Kind.DIED: 0, Answer.Kind.BOOK: 1}  # what must not wait stands on top


@dataclass(frozen=True)
class Row:
    """`form`: what settles it, where a form does; `steps`: pages that do, as words and address."""

    id: int
    kind: str
    patient: str
    patient_url: str
    owner: str
    owner_id: int
    phone: str
    digits: str
    email: str
    what: str
    said: str
    words: str
    when: str
    proof: str
    proof_is_picture: bool
    form: BookAnswerForm | ElsewhereForm | None
    steps: tuple[tuple[str, str], ...]
    how: str = ""
    replied: str = ""


def waiting(*, today: date, wrong: BookAnswerForm | ElsewhereForm | None = None, of: int = 0) -> list[Row]:
    """What waits; a death first, then who asks for a day. Four queries, however many."""
    rows = Answer.objects.filter(undone_at=None, settled_at=None)
    found = list(rows.select_related("patient", "owner").prefetch_related("owner__phones")[:SHOWN])
    replies = replies_to(found)
    made = []
    for alike in _requests(found):
        form = next((wrong for each in alike if each.pk == of), None)
        written = [message for each in alike for message in replies.get(each.pk, ())]
        made.append(_row(alike, form=form, replies=written))
    return sorted(made, key=lambda row: FIRST.get(Answer.Kind(row.kind), 2))


def settled_lately(*, now: datetime) -> list[Row]:
    """What still may be taken back."""
    rows = Answer.objects.filter(undone_at=None, settled_at__gte=now - LATELY)
    found = rows.select_related("patient", "owner", "settled_by").prefetch_related("owner__phones")
    return [_row(alike) for alike in _requests(found.order_by("-settled_at", "-pk")[:SHOWN])]


def how_many() -> int:
    """As `waiting` lists them."""
    ids = (Cast("message", TextField()), Value("-"), Cast("patient", TextField()))
    request = Concat(*ids, output_field=TextField())
    alone = Cast("pk", TextField())
    one = Case(When(kind=Answer.Kind.BOOK, then=request), default=alone)
    waits = Answer.objects.filter(undone_at=None, settled_at=None)
    return int(waits.aggregate(n=Count(one, distinct=True))["n"])


def _requests(rows: Iterable[Answer]) -> list[list[Answer]]:
    """A day asked for about several things of one animal is one request; every other answer stands alone."""
    found: dict[tuple[object, ...], list[Answer]] = {}
    for row in rows:
        one = (row.message_id, row.patient_id, row.settled_at)
        found.setdefault(one if row.kind == Answer.Kind.BOOK else (row.pk,), []).append(row)
    return list(found.values())


def _row(
    alike: Sequence[Answer],
    form: BookAnswerForm | ElsewhereForm | None = None,
    replies: Sequence[Message] = (),
) -> Row:
    alike = sorted(alike, key=lambda each: each.pk)
    row = alike[0]
    kind = Answer.Kind(row.kind)
    if form is None and row.settled_at is None:
        if kind == Answer.Kind.BOOK:
            form = BookAnswerForm(prefix=str(row.pk))
        elif kind == Answer.Kind.ELSEWHERE:
            form = ElsewhereForm(prefix=str(row.pk))
    phone = next(iter(row.owner.phones.all()), None)
    by = row.settled_by.full_name if row.settled_at and row.settled_by else ""
    return Row(
        id=row.pk,
        kind=kind,
        patient=row.patient.name,
        patient_url=reverse("patient", args=[row.patient_id]),
        owner=row.owner.name,
        owner_id=row.owner_id,
        phone=phone.number if phone else "",
        digits=phone.digits if phone else "",
        email=row.owner.email,
        what=", ".join(dict.fromkeys(filter(None, (each.label for each in alike)))),
        said=kind.label + (f": {_day(row.done_on)}" if row.done_on else ""),
        words=" ".join(dict.fromkeys(filter(None, (each.words for each in alike)))),
        when=f"{timezone.localtime(row.at):%-d %B, %H:%M}",
        proof=reverse("due-answer-proof", args=[row.pk]) if row.proof else "",
        proof_is_picture=row.proof.endswith(".jpg"),
        form=form,
        steps=_steps(row) if kind in OF_ANIMALS else (),
        replied=f"{timezone.localtime(replies[-1].made_at):%-d %B, %H:%M}" if replies else "",
        how=f"{row.settled_how}{f', {by}' if by else ''}",
    )


def _steps(row: Answer) -> tuple[tuple[str, str], ...]:
    if row.kind == Answer.Kind.DIED:
        return (("Note the death", reverse("patient-death", args=[row.patient_id])),)
    if row.kind == Answer.Kind.MOVED:
        return (("Note that it left", reverse("patient-left", args=[row.patient_id])),)
    return (("Enter the new owner", reverse("patient", args=[row.patient_id])),)


def _day(day: date) -> str:
    return f"{day.day} {day:%B %Y}"
