"""The questions that Today asks, each one query, whatever the number of rows."""

from collections.abc import Iterable
from datetime import date, datetime, time, timedelta
from typing import NamedTuple

from django.db import connection
from django.db.models import Exists, F, OuterRef, Q, QuerySet
from django.utils import timezone

from clinic.care.models import Assessment, PlanLine, TestResult
from clinic.letters.models import Letter, LetterHanded
from clinic.mail.models import Message
from clinic.patients.models import Measurement, Ownership
from clinic.people.models import Owner
from clinic.visits.actions.arrivals import HERE
from clinic.visits.models import HeadsUp, HistoryAnswer, NextVisit, PlaceStep, Record, Visit

PLACES_LEFT = (Visit.Place.GONE_HOME, Visit.Place.LEFT_EARLY)
MISSED_DAYS = 14  # how long somebody who did not come stands on Today, unless it is said what became of it
MANY = 60
# with the owner, or on the way there
REACHES = (Message.State.SENT, Message.State.WAITING, Message.State.SENDING)


class Between(NamedTuple):
    start: datetime
    end: datetime


class Staged(NamedTuple):
    """A visit and how far its open record is: 0 not begun, 1 intake, 2 exam, 3 assessment and plan."""

    visit: Visit
    stage: int


class Letterless(NamedTuple):
    """An animal that went home, its owner without the letter. None: not signed; no mail for it."""

    visit: Visit
    letter: Letter | None
    message: Message | None


class Unsigned(NamedTuple):
    record: Record
    has_heads_up: bool


def day_of(today: date) -> Between:
    """The clinic's day, midnight to midnight."""
    start = timezone.make_aware(datetime.combine(today, time.min))
    return Between(start, timezone.make_aware(datetime.combine(today + timedelta(days=1), time.min)))


def _people(visits: QuerySet[Visit]) -> QuerySet[Visit]:
    return visits.select_related(
        "patient",
        "arrival__owner",
        "record__signed_by",
        "technician",
        "clinician",
        "see_now_by",
        "see_now_taken_by",
    )


def visits_in_view(today: date) -> list[Staged]:
    """Who is here, who is expected today, who went today; longest at their place first."""
    start, end = day_of(today)
    of_today = (
        Q(place__in=HERE)
        | Q(place=Visit.Place.EXPECTED, expected_at__gte=start, expected_at__lt=end)
        | Q(place__in=PLACES_LEFT, gone_at__gte=start, gone_at__lt=end)
    )
    rows = (
        _people(Visit.objects.filter(of_today))
        .annotate(
            has_answers=Exists(HistoryAnswer.objects.filter(record__visit=OuterRef("pk"))),
            has_measured=Exists(Measurement.objects.filter(visit=OuterRef("pk"), struck_at=None)),
            has_clinician=Exists(
                PlaceStep.objects.filter(visit=OuterRef("pk"), place=Visit.Place.WITH_CLINICIAN)
            ),
            has_plan=Exists(Assessment.objects.filter(record__visit=OuterRef("pk")))
            | Exists(PlanLine.objects.filter(record__visit=OuterRef("pk"))),
        )
        .order_by("place_since", "expected_at", "pk")
    )
    staged = []
    for row in rows:
        asked = bool(row.has_answers or row.has_measured or row.owners_words)
        stage = 3 if row.has_plan else 2 if row.has_clinician else int(asked)
        staged.append(Staged(row, stage))
    return staged


def missed(today: date) -> list[Visit]:
    """Expected before today, or said not to have come today, and nothing settled since."""
    start, end = day_of(today)
    since = start - timedelta(days=MISSED_DAYS)
    return list(
        _people(
            Visit.objects.filter(
                Q(place=Visit.Place.EXPECTED, expected_at__gte=since, expected_at__lt=start)
                | Q(place=Visit.Place.DID_NOT_COME, expected_at__gte=since, expected_at__lt=end)
            )
        ).order_by("-expected_at", "pk")[:MANY]
    )


def unsigned_of_earlier_days(today: date) -> list[Unsigned]:
    """Open records of animals that left before today, oldest first, with the heads-ups left open."""
    start, _end = day_of(today)
    open_heads_up = HeadsUp.objects.filter(record=OuterRef("pk"), answer="")
    rows = (
        Record.objects.filter(signed_at=None, visit__place__in=PLACES_LEFT, visit__gone_at__lt=start)
        .select_related("visit__patient", "visit__clinician")
        .annotate(has_heads_up=Exists(open_heads_up))
        .order_by("visit__gone_at", "pk")[:MANY]
    )
    return [Unsigned(row, row.has_heads_up) for row in rows]


def gone_without_letter(today: date) -> list[Letterless]:
    """Gone home and not signed today; or signed, and the letter neither left by mail nor was given on paper.

    Newest first, of the last two weeks; records of earlier days that nobody signed stand elsewhere. After a
    death nobody waits for a letter. At most three queries.
    """
    start, _end = day_of(today)
    of_visit = {"record__visit": OuterRef("pk"), "kind": Letter.Kind.VISIT}
    through = {f"letter__{name}": value for name, value in of_visit.items()}
    mailed = Message.objects.filter(**through, owner=F("letter__owner"), state__in=REACHES)
    rows = (
        _people(Visit.objects.filter(place__in=PLACES_LEFT, patient__deceased_on=None))
        .filter(gone_at__gte=start - timedelta(days=MISSED_DAYS))
        .exclude(outcome__in=[Visit.Outcome.DIED, Visit.Outcome.EUTHANISED])
        .filter(
            Q(record__signed_at=None, place=Visit.Place.GONE_HOME, gone_at__gte=start)
            | Q(Exists(Letter.objects.filter(**of_visit)), record__signed_at__isnull=False)
        )
        .filter(~Exists(mailed), ~Exists(LetterHanded.objects.filter(**through)))
        .order_by("-gone_at", "pk")[:MANY]
    )
    visits = list(rows)
    records = [visit.record.pk for visit in visits if visit.record.is_signed]
    letters = Letter.objects.filter(record__in=records, kind=Letter.Kind.VISIT).order_by("version")
    newest = {letter.record_id: letter for letter in letters.defer("content")}
    messages = newest_messages(records)
    return [Letterless(v, newest.get(v.record.pk), messages.get(v.record.pk)) for v in visits]


def plans_for_today(today: date) -> list[NextVisit]:
    """Plans that have not become visits: of today or overdue, and those of this week without a day."""
    monday = today - timedelta(days=today.weekday())
    return list(
        NextVisit.objects.filter(state=NextVisit.State.PLANNED, patient__deceased_on=None)
        .filter(
            Q(on__lte=today, on__gt=today - timedelta(days=MISSED_DAYS), week_of=False)
            | Q(on__range=(monday, monday + timedelta(days=6)), week_of=True)
        )
        .select_related("patient", "by")
        .order_by("week_of", "at", "on", "pk")[:MANY]
    )


def unread_results() -> list[TestResult]:
    """Of each test with a result that no clinician has read the first one, oldest first."""
    firsts = (
        TestResult.objects.filter(read_at=None, struck_at=None)
        .order_by("test", "resulted_at", "pk")
        .distinct("test")
        .values("pk")
    )
    return list(
        TestResult.objects.filter(pk__in=firsts)
        .select_related("test__patient", "test__ordered_by", "test__record")
        .order_by("resulted_at", "pk")[:MANY]
    )


def first_owners(patient_ids: Iterable[int]) -> dict[int, Owner]:
    """Patient to the owner who is written to, with telephones."""
    rows = (
        Ownership.objects.filter(patient__in=set(patient_ids), until=None)
        .select_related("owner")
        .prefetch_related("owner__phones")
        .order_by("is_first", "-pk")
    )
    return {row.patient_id: row.owner for row in rows}


def newest_messages(record_ids: Iterable[int]) -> dict[int, Message]:
    """Record to the newest message that carries its letter to whom it was written to."""
    rows = (
        Message.objects.filter(letter__record__in=set(record_ids), owner=F("letter__owner"))
        .select_related("letter")
        .order_by("made_at", "pk")
    )
    return {row.letter.record_id: row for row in rows if row.letter and row.letter.record_id}


def handed_records(record_ids: Iterable[int]) -> frozenset[int]:
    """Records whose letter was given to the owner on paper."""
    given = LetterHanded.objects.filter(letter__record__in=set(record_ids), letter__kind=Letter.Kind.VISIT)
    return frozenset(given.values_list("letter__record", flat=True))


FINGERPRINT = """
SELECT concat_ws('.',
    (SELECT max(pgh_id) FROM clinic_visitevent),
    (SELECT max(pgh_id) FROM clinic_nextvisitevent),
    (SELECT max(pgh_id) FROM clinic_patientevent),
    (SELECT max(id) FROM clinic_placestep),
    (SELECT max(id) FROM clinic_planline),
    (SELECT max(id) FROM clinic_planprogress),
    (SELECT max(id) FROM clinic_promisestep),
    (SELECT max(id) FROM clinic_contact),
    (SELECT max(id) FROM clinic_testresult),
    (SELECT max(id) FROM clinic_messagestep),
    (SELECT max(id) FROM clinic_letterhanded),
    (SELECT count(*) FROM clinic_record WHERE signed_at IS NULL))
"""


def fingerprint(now: datetime) -> str:
    """Changes when Today may look different: one query, each part the end of an index.

    The minute is in it, because waits are counted in minutes; it also bounds how long a row that committed
    out of order can stay unseen.
    """
    with connection.cursor() as cursor:
        cursor.execute(FINGERPRINT)
        (parts,) = cursor.fetchone()
    return f"{int(now.timestamp()) // 60}.{parts}"
