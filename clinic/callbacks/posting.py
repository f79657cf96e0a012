"""Reminders on paper, for households that no e-mail reaches: one letter each, all of them one PDF.

Whoever prints is noted as having asked: the letters rest as mails do. What a mail must say stands here, too.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

from django.db import transaction
from django.db.models import Q, QuerySet
from django.template.loader import render_to_string
from django.utils import timezone
from procrastinate.contrib.django import app

from clinic.callbacks import composing, plan_words, planning, queries
from clinic.callbacks.asked_today import hold_owners, suppressed
from clinic.callbacks.by_hand import asked_by_hand, steps_in_force
from clinic.callbacks.errors import CallBackError
from clinic.callbacks.models import AskedItem, Asking, CallBack
from clinic.callbacks.narrowing import few_households
from clinic.callbacks.planning import Steps
from clinic.callbacks.post_models import PostRun
from clinic.callbacks.reasons import Reach, again_on
from clinic.callbacks.reminder_models import fingerprint
from clinic.callbacks.reminder_words import Said, by_animal, written_to_owner
from clinic.letters.tasks_queue import QUEUE
from clinic.letters.wording import long_day, words
from clinic.people.actor import Actor
from clinic.people.models import Owner
from clinic.people.rights import Right
from clinic.platform.addresses import town
from clinic.platform.queries import clinic_details
from clinic.visits.actions.common import first_sending

TASK = "clinic.callbacks.tasks.print_post"
AT_MOST = 100  # letters in one printing
Block = str | tuple[str, ...]


class NobodyByPost(CallBackError):
    def __init__(self) -> None:
        super().__init__("None of them can be written to by post now. Look at the list again.")


@dataclass(frozen=True)
class PostLetter:
    """One household's letter: `address` line by line, `blocks` paragraphs or the lines of a list."""

    owner_id: int
    owner: str
    address: tuple[str, ...]
    language: str
    large: bool
    title: str
    day: str
    blocks: tuple[Block, ...]
    rows: tuple[CallBack, ...]

    @property
    def about(self) -> tuple[str, ...]:
        return by_animal((row.patient.name, row.label) for row in self.rows)


def letters_by_post(*, today: date, owner_ids: Sequence[int] | None = None) -> list[PostLetter]:
    """Those overdue who may be asked, have a street and are reached by no e-mail; and whom a plan asks by
    letter. Ten queries.

    `owner_ids`: of these only; else the longest overdue first, as many as one printing holds.
    """
    rows = _rows(today)
    if owner_ids is not None:
        rows = rows.filter(household__in=list(owner_ids))
    by_owner: dict[int, list[CallBack]] = {}
    # what plans ask about by letter, whatever would reach the household
    by_plan = asked_by_hand(planning.LETTER, steps_in_force(), today=today)
    found = {row.pk: row for row in (*rows.select_related("patient")[:2000], *by_plan)}
    for row in sorted(found.values(), key=lambda each: (each.due_on, each.pk)):
        if owner_ids is not None and row.household not in owner_ids:
            continue
        if row.household in by_owner or len(by_owner) < AT_MOST:
            by_owner.setdefault(row.household, []).append(row)
    owners = Owner.objects.in_bulk(by_owner)
    silent = suppressed(each.email for each in owners.values() if each.email)
    clinic, said = clinic_details(), plan_words.in_force()
    made = []
    for key, mine in by_owner.items():
        owner = owners[key]
        if owner.email and fingerprint(owner.email) in silent:
            continue
        text = written_to_owner(
            owner,
            [Said(each.patient.name, each.label, each.due_on, each.never) for each in mine],
            clinic=clinic,
            words=said,
            ways=composing.Ways(clinic.email, on_paper=True),
            today=today,
        )
        made.append(_letter(owner, mine, text, today, at_home=clinic.country))
    return made


def how_many(*, plans: Sequence[Steps], today: date) -> int:
    """Households that may be written to by post, at most a printing full of them. Three or four queries,
    and three where one of the plans asks by letter."""
    found = dict(_rows(today).values_list("household", "holding__owner__email")[: AT_MOST * 4])
    by_plan = asked_by_hand(planning.LETTER, plans, today=today, at_most=AT_MOST)
    found |= {row.household: row.email for row in by_plan}
    silent = suppressed(each for each in found.values() if each) if any(found.values()) else set()
    left = [key for key, each in found.items() if not each or fingerprint(each) not in silent]
    return min(len(left), AT_MOST)


def _rows(today: date) -> QuerySet[Any]:
    """What is overdue and may be asked about by post, the longest overdue first."""
    rows = queries.call_backs(today=today, until=today - timedelta(days=1)).filter(why="")
    few = few_households(queries.Wanted(), today=today, sums=~Q(reach=Reach.MAIL), held=~Q(owner__street=""))
    if few is not None:  # else a walk along the days finds a printing full of them
        rows = rows.filter(household__in=few)
    rows = rows.exclude(nature=CallBack.Nature.BY_PERSON).exclude(reach=Reach.MAIL)
    return rows.exclude(holding__owner__street="").order_by("due_on", "pk")


def _letter(
    owner: Owner, rows: Sequence[CallBack], text: composing.Written, today: date, *, at_home: str
) -> PostLetter:
    """`at_home`: the clinic's country, which no address within it names."""
    abroad = owner.country if owner.country != at_home else ""
    parts = text.body.strip().split("\n\n")[1:]  # the title stands above them
    blocks: list[Block] = []
    for part in parts:
        lines = part.split("\n")
        is_list = all(line.startswith("- ") for line in lines)
        blocks.append(tuple(line[2:] for line in lines) if is_list else part)
    return PostLetter(
        owner_id=owner.pk,
        owner=owner.name,
        address=tuple(filter(None, (owner.name, owner.street, town(owner), abroad))),
        language=owner.language,
        large=owner.print_size == Owner.Print.LARGE,
        title=text.subject,
        day=long_day(today, words(owner.language)),
        blocks=tuple(blocks),
        rows=tuple(rows),
    )


@transaction.atomic
def print_letters(
    *, owner_ids: Sequence[int], once: UUID | None = None, actor: Actor, now: datetime
) -> PostRun:
    """Keep the letters, note that these households were asked, and queue the PDF.

    Raises NobodyByPost, SentBefore. Two at once: the owners are held, the second finds them asked.
    """
    actor.require(Right.NOTE_CONTACT)
    first_sending(once, actor=actor, now=now)
    today = timezone.localdate(now)
    letters = letters_by_post(today=today, owner_ids=hold_owners(list(owner_ids)[:AT_MOST]))
    if not letters:
        raise NobodyByPost
    clinic = clinic_details()
    run = PostRun.objects.create(
        by=actor.staff,
        at=now,
        households=len(letters),
        content=post_html(letters),
        paper=clinic.paper,
    )
    for each in letters:
        asking = Asking.objects.create(
            owner_id=each.owner_id,
            how=Asking.How.LETTER,
            outcome=Asking.Outcome.ASKED,
            again_on=again_on(Asking.Outcome.ASKED, today=today),
            by=actor.staff,
            at=now,
        )
        AskedItem.objects.bulk_create(
            AskedItem(
                asking=asking,
                patient_id=row.patient_id,
                source=row.source,
                key=row.key,
                label=row.label,
                due_on=row.due_on,
            )
            for row in each.rows
        )
    app.configure_task(TASK, queue=QUEUE).defer(run_id=run.pk)
    return run


def post_html(letters: Sequence[PostLetter]) -> str:
    """For paper; the letters' style sheet is given to the renderer apart."""
    clinic = clinic_details()
    place = town(clinic)
    context = {
        "letters": letters,
        "clinic": clinic,
        "lines": [clinic.street, place],
        "back": ", ".join(filter(None, (clinic.name, clinic.street, place))),
    }
    return render_to_string("clinic/callbacks/post_sheet.html", context)
