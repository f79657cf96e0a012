"""Who is overdue for what: rows, households, counts. One rule each for reach and for whom nobody asks."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

from django.db import connection
from django.db.models import (
    Case,
    CharField,
    Count,
    DateField,
    DateTimeField,
    Exists,
    F,
    FilteredRelation,
    Func,
    IntegerField,
    Min,
    OuterRef,
    Prefetch,
    Q,
    QuerySet,
    Subquery,
    Value,
    When,
)
from django.db.models.expressions import CombinedExpression
from django.db.models.functions import Coalesce, Greatest
from django.db.models.lookups import Exact
from django.shortcuts import get_object_or_404
from django.utils import timezone

from clinic.callbacks.answer_models import OF_ANIMALS, Answer
from clinic.callbacks.models import AskedItem, Asking, CallBack, ReminderStop, name_of_label
from clinic.callbacks.reasons import ASKED_AT_MOST, INACTIVE_MONTHS, UNREACHED, LeftOut, Reach
from clinic.callbacks.reminder_models import ReminderSettings
from clinic.patients.models import LifestyleAnswer, Patient
from clinic.people.actor import Actor
from clinic.people.models import Owner, Phone, Staff
from clinic.people.rights import Right
from clinic.visits.actions.arrivals import HERE
from clinic.visits.models import NextVisit, Visit

PAGE = 25  # households
WINDOW = 400  # things looked at first for a page
NAMED = 1600  # things of a window that are named one by one
LABELS = 60
SOON = timedelta(days=30)  # due soon: common practice
# ours: a check-up planned for next year is no answer to a booster that is due in three weeks
COVERS_DAYS = 30


@dataclass(frozen=True)
class Wanted:
    """What the list is asked for. `why`: None for those to be asked, a reason, or "any" for all left out.

    `what`: a label up to its colon; `over`: days at least; `clinician`: who saw the animal last; `asked`: how
    often, "0", "1" or "2" for more; `life`: the code of an answer about the animal's life that is yes.
    """

    what: str = ""
    over: int = 1
    clinician: int | None = None
    reach: str = ""
    why: str | None = None
    species: str = ""
    asked: str = ""
    life: str = ""


@dataclass(frozen=True)
class After:
    """A household in the order of the list; the one that the page before ended with."""

    since: date
    owner_id: int


def call_backs(*, today: date, until: date) -> QuerySet[Any]:
    """All that is due by `until`; each with `household` (first owner), `reach`, and `why` it is left out."""
    rows = CallBack.objects.filter(due_on__lte=until, patient__merged_into=None).annotate(
        holding=FilteredRelation(
            "patient__ownerships",
            condition=Q(patient__ownerships__until=None, patient__ownerships__is_first=True),
        ),
        household=F("holding__owner"),
    )
    return (
        rows.filter(household__isnull=False)
        .annotate(again_on=_newest("asking__again_on"), outcome=_newest("asking__outcome"))
        .annotate(reach=_reach("holding__owner__"), why=_left_out(today))
    )


def overdue(wanted: Wanted, *, today: date) -> QuerySet[Any]:
    """Overdue is what was due before today (common practice)."""
    rows = call_backs(today=today, until=today - timedelta(days=max(wanted.over, 1)))
    rows = rows.filter(named(wanted.what))
    if wanted.clinician:
        rows = rows.annotate(seen_by=Subquery(_seen().values("clinician")[:1])).filter(
            seen_by=wanted.clinician
        )
    if wanted.species:
        rows = rows.filter(patient__species=wanted.species)
    if wanted.life:
        answers = LifestyleAnswer.objects.filter(patient=OuterRef("patient"), code=wanted.life, answer="yes")
        rows = rows.filter(Exists(answers))
    if wanted.asked:
        rows = rows.annotate(heard=_times())
        rows = rows.filter(heard__gte=2) if wanted.asked == "2" else rows.filter(heard=int(wanted.asked))
    return rows.filter(reach=wanted.reach) if wanted.reach else rows


def _times() -> Coalesce:
    """How often somebody heard that it is due."""
    asked = _asked().order_by().values("patient").annotate(n=Count("pk")).values("n")
    return Coalesce(Subquery(asked, output_field=IntegerField()), 0)


def named(what: str) -> Q:
    """A label up to its colon, as the index `call_backs_by_name` has it; anything where it is empty."""
    return Q(Exact(name_of_label(), what)) if what else Q()


def shown(rows: QuerySet[Any], why: str | None) -> QuerySet[Any]:
    """Those to be asked, those left out for one reason, or all that are left out."""
    if why is None:
        return rows.filter(why="")
    return rows.exclude(why="") if why == "any" else rows.filter(why=why)


def households(
    rows: QuerySet[Any],
    *,
    until: date,
    what: str = "",
    after: After | None = None,
    animals: Q | None = None,
) -> tuple[list[int], After | None]:
    """Owners of one page, the longest overdue first, and where the next page goes on.

    What was never recorded leads nobody: a household with nothing else stands behind all others
    (`CallBack.listed_on`). Along the days, in windows that double: a page is mostly full after the first, so
    that the rules are asked of some hundred rows and not of a hundred thousand. Two queries a window, three
    behind the first page.
    `what`: the label that `rows` are of, where they are of one; `animals`: what is asked of their animals.
    """
    near = CallBack.objects.filter(named(what), animals or Q(), due_on__lte=until).order_by("listed_on")
    found: list[After] = []
    seen: set[int] = set()
    start: date | None = after.since if after else date.min
    size = WINDOW
    while start is not None and len(found) <= PAGE:
        window, start = _window(rows, near, start, size)
        new = [each for each in since_when(window) if each.owner_id not in seen]
        found += _not_before(rows, new, after) if after else new
        seen |= {each.owner_id for each in new}
        size *= 2
    return cut(found)


def cut(found: list[After]) -> tuple[list[int], After | None]:
    """The first page of what was found, and where the next one goes on."""
    return [each.owner_id for each in found[:PAGE]], found[PAGE - 1] if len(found) > PAGE else None


def behind(found: list[After], after: After | None) -> list[After]:
    """What stands behind the page that ended there."""
    if after is None:
        return found
    return [each for each in found if (each.since, each.owner_id) > (after.since, after.owner_id)]


def _window(
    rows: QuerySet[Any], near: QuerySet[CallBack], start: date, size: int
) -> tuple[QuerySet[Any], date | None]:
    """Of `rows` what is among about so many things `near` them from `start` on, whole days, and the day
    behind them; None where none is left.

    A small window names its rows by their keys: how many those are the database then knows, and it looks up
    their patients and owners by index; guessing from two days it would read all of both.
    """
    near = near.filter(listed_on__gte=start)
    if size > NAMED:
        end = next(iter(near.values_list("listed_on", flat=True)[size : size + 1]), None)
        window = (
            rows.filter(listed_on__gte=start) if end is None else rows.filter(listed_on__range=(start, end))
        )
        return window, end and end + timedelta(days=1)
    found = list(near.values_list("listed_on", "pk")[: size + 1])
    if len(found) <= size:
        return rows.filter(pk__in=[key for _, key in found]), None
    first, end = found[0][0], found[-1][0]
    if first == end:
        return rows.filter(listed_on=end), end + timedelta(days=1)
    return rows.filter(pk__in=[key for day, key in found if day < end]), end


def since_when(rows: QuerySet[Any]) -> list[After]:
    """The households of these rows, each with the first day of its own, in the order of the list."""
    grouped = (
        rows.order_by().values("household").annotate(since=Min("listed_on")).order_by("since", "household")
    )
    return [After(each["since"], each["household"]) for each in grouped]


def _not_before(rows: QuerySet[Any], new: list[After], after: After) -> list[After]:
    """Without the households of the pages before: those that have something that stands earlier."""
    ids = [each.owner_id for each in new]
    earlier = set(
        rows.filter(household__in=ids, listed_on__lt=after.since)
        .order_by()
        .values_list("household", flat=True)
    )
    return behind([each for each in new if each.owner_id not in earlier], after)


def in_detail(rows: QuerySet[Any], *, owner_ids: list[int], today: date) -> list[Any]:
    """All rows of these households with what a line says: how often asked, when, what is booked. One."""
    return list(
        rows.filter(household__in=owner_ids)
        .select_related("patient")
        .annotate(
            asked_times=_times(),
            asked_at=_newest("asking__at"),
            asked_how=_newest("asking__how"),
            booked_at=Subquery(_expected(today).order_by("expected_at").values("expected_at")[:1]),
            planned_on=Subquery(_planned(today).order_by("on").values("on")[:1]),
            stopped_at=Subquery(_stops().order_by("at").values("at")[:1]),
        )
        .order_by("listed_on", "pk")
    )


def owners(owner_ids: list[int]) -> dict[int, Owner]:
    """With their telephones, each with whether it was wrong. Two queries."""
    phones = Prefetch("phones", Phone.objects.annotate(is_wrong=Exists(_wrong())))
    found = Owner.objects.filter(pk__in=owner_ids).annotate(reach=_reach("")).prefetch_related(phones)
    return {owner.pk: owner for owner in found}


@dataclass(frozen=True)
class Counts:
    """`things` and `patients` to be asked about; households by reach; things left out by reason."""

    things: int
    patients: int
    reach: dict[str, int]
    left_out: dict[str, int]


def counts(rows: QuerySet[Any]) -> Counts:
    """Of the same rows that the list shows. One query: a patient has one first owner, who has one reach."""
    found = (
        rows.order_by()
        .values("why", "reach")
        .annotate(
            n=Count("pk"),
            patients=Count("patient", distinct=True),
            households=Count("household", distinct=True),
        )
    )
    asked = [each for each in found if not each["why"]]
    left_out: dict[str, int] = {}
    for each in found:
        if each["why"]:
            left_out[each["why"]] = left_out.get(each["why"], 0) + each["n"]
    return Counts(
        things=sum(each["n"] for each in asked),
        patients=sum(each["patients"] for each in asked),
        reach={each["reach"]: each["households"] for each in asked},
        left_out=left_out,
    )


def by_name(*, today: date) -> dict[str, int]:
    """How many things somebody has to be asked about, by their labels up to the colon. One query."""
    rows = overdue(Wanted(), today=today).filter(why="").order_by()
    found: dict[str, int] = {}
    for label, things in rows.values_list("label").annotate(n=Count("pk")):
        name = label.split(": ")[0]
        found[name] = found.get(name, 0) + things
    return found


NAMES = """
WITH RECURSIVE names AS (
    SELECT min(split_part(label, ': ', 1)) AS name FROM clinic_callback
    UNION ALL
    SELECT (SELECT min(split_part(label, ': ', 1)) FROM clinic_callback
            WHERE split_part(label, ': ', 1) > names.name)
    FROM names WHERE names.name IS NOT NULL
)
SELECT name FROM names WHERE EXISTS (
    SELECT FROM clinic_callback WHERE split_part(label, ': ', 1) = name AND due_on < %s
) ORDER BY name COLLATE "C" LIMIT %s
"""


def labels(*, today: date) -> list[str]:
    """What can be overdue, by name; a label's part before its colon. One query.

    From name to name along the index `call_backs_by_name`: there are few names and very many rows.
    """
    with connection.cursor() as cursor:
        cursor.execute(NAMES, [today, LABELS])
        return [name for (name,) in cursor.fetchall()]


def clinicians() -> list[Staff]:
    return list(Staff.objects.filter(roles__contains=["clinician"], is_active=True).order_by("full_name"))


def patients_of(call_back_ids: list[int]) -> QuerySet[Patient]:
    return Patient.objects.filter(call_backs__in=call_back_ids).order_by("name", "pk").distinct()


def animals_of(owner: Owner) -> list[Patient]:
    """Theirs now, those that live and come here."""
    rows = Patient.objects.filter(ownerships__owner=owner, ownerships__until=None, merged_into=None)
    return list(rows.filter(deceased_on=None, left_practice_on=None).order_by("name", "pk"))


def askings_of(owner: Owner) -> list[Asking]:
    """The newest first, with their things, and whether they were taken back. Two queries."""
    rows = owner.askings.select_related("by", "taken_back__by").prefetch_related("items__patient")
    return list(rows.order_by("-at", "-pk"))


def stops_of(owner: Owner) -> list[ReminderStop]:
    """Those that stand, the newest first."""
    return list(owner.reminder_stops.filter(lifted_at=None).select_related("by", "patient"))


# --- The rules ----------------------------------------------------------------------------------------------


def _reach(owner: str) -> Case:
    """The way open to an owner; `owner` is the path to its columns."""
    by = {name: f"{owner}{name}" for name in ("letters_by", "street", "email", "email_state", "pk")}
    phone = Exists(Phone.objects.filter(~Exists(_wrong()), owner=OuterRef(by["pk"])))
    return Case(
        When(
            Q(**{by["letters_by"]: Owner.LettersBy.PAPER}) & ~Q(**{by["street"]: ""}), then=Value(Reach.PAPER)
        ),
        When(
            Q(**{f"{by['email_state']}__in": ("works", "untried")})
            & ~Q(**{by["letters_by"]: Owner.LettersBy.PAPER}),
            then=Value(Reach.MAIL),
        ),
        When(**{by["email_state"]: Owner.EmailState.BOUNCED}, then=Value(Reach.BOUNCED)),
        When(phone, then=Value(Reach.TELEPHONE)),
        When(~Q(**{by["street"]: ""}), then=Value(Reach.PAPER)),
        default=Value(Reach.NOTHING),
        output_field=CharField(),
    )


def _wrong() -> QuerySet[Asking]:
    """Somebody dialled this number of this owner and it was wrong; until that is taken back."""
    return Asking.objects.filter(
        owner=OuterRef("owner"),
        number=OuterRef("number"),
        outcome=Asking.Outcome.WRONG_NUMBER,
        taken_back=None,
    )


def _left_out(today: date) -> Case:
    """The weightiest reason for which nobody asks (common practice); empty where somebody may."""
    stopped = ReminderStop.objects.filter(owner=OuterRef("holding__owner"), lifted_at=None)
    this = {name: OuterRef(name) for name in ("patient", "source", "key")}
    heard = _asked().order_by().values("patient").annotate(n=Count("pk")).values("n")
    since = _inactive_since(today)
    seen = Visit.objects.filter(patient=OuterRef("patient"), arrived_at__gte=since)
    return Case(
        When(patient__deceased_on__isnull=False, then=Value(LeftOut.DIED)),
        When(patient__left_practice_on__isnull=False, then=Value(LeftOut.MOVED)),
        When(Exists(stopped.filter(patient=None)), then=Value(LeftOut.STOPPED)),
        When(Exists(stopped.filter(**this)), then=Value(LeftOut.STOPPED_ITEM)),
        When(outcome=Asking.Outcome.ELSEWHERE, then=Value(LeftOut.ELSEWHERE)),
        When(Exists(_answers()), then=Value(LeftOut.ANSWERED)),
        When(
            Exists(Visit.objects.filter(patient=OuterRef("patient"), place__in=HERE)),
            then=Value(LeftOut.HERE),
        ),
        When(Exists(_expected(today)) | Exists(_planned(today)), then=Value(LeftOut.BOOKED)),
        When(again_on__gt=today, then=Value(LeftOut.LATELY)),
        When(
            Exists(heard.filter(n__gte=ASKED_AT_MOST)),
            then=Value(LeftOut.OFTEN),
        ),
        When(~Exists(seen) & Q(patient__made_at__lt=since), then=Value(LeftOut.INACTIVE)),
        default=Value(""),
        output_field=CharField(),
    )


def _inactive_since(today: date) -> Func:
    """So many months before today as the clinic has set; asked of the database, once a statement."""
    months = Subquery(ReminderSettings.objects.filter(pk=1).values("inactive_months"))
    return Func(
        Value(timezone.make_aware(datetime.combine(today, time()))),
        Coalesce(months, Value(INACTIVE_MONTHS)),
        template="(%(expressions)s))",
        arg_joiner=" - make_interval(months => ",
        output_field=DateTimeField(),
    )


def _about() -> QuerySet[AskedItem]:
    """What was asked about the same thing with the same day; with another day it is another thing."""
    names = ("patient", "source", "key", "due_on")
    return AskedItem.objects.filter(asking__taken_back=None, **{name: OuterRef(name) for name in names})


def _asked() -> QuerySet[AskedItem]:
    """Those that somebody heard."""
    return _about().exclude(asking__outcome__in=UNREACHED)


def _newest(field: str) -> Subquery:
    """By the key's number: by the row it would follow that table's own order, turned round."""
    return Subquery(_about().order_by("-asking_id").values(field)[:1])


def _answers() -> QuerySet[Answer]:
    """What the owner said by a reminder's link: of a thing while it waits, of an animal till undone."""
    waits = Q(settled_at=None, **{name: OuterRef(name) for name in ("source", "key", "due_on")})
    return Answer.objects.filter(
        waits | Q(kind__in=OF_ANIMALS), patient=OuterRef("patient"), owner=OuterRef("holding__owner"),
        undone_at=None,
    )  # fmt: skip


def _stops() -> QuerySet[ReminderStop]:
    mine = Q(patient=None) | Q(patient=OuterRef("patient"), source=OuterRef("source"), key=OuterRef("key"))
    return ReminderStop.objects.filter(mine, owner=OuterRef("holding__owner"), lifted_at=None)


def _covered(today: date) -> CombinedExpression:
    """The last day on which a visit covers a thing: a month behind its due date, or behind today."""
    day = DateField()
    by = Greatest(OuterRef("due_on"), Value(today, output_field=day))
    return CombinedExpression(by, "+", Value(COVERS_DAYS), output_field=day)


def _expected(today: date) -> QuerySet[Visit]:
    start = timezone.make_aware(datetime.combine(today, time()))
    return Visit.objects.filter(
        patient=OuterRef("patient"),
        place=Visit.Place.EXPECTED,
        expected_at__gte=start,
        expected_at__date__lte=_covered(today),
    )


def _planned(today: date) -> QuerySet[NextVisit]:
    """Also one for a week that has begun."""
    monday = today - timedelta(days=today.weekday())
    return NextVisit.objects.filter(
        Q(on__gte=today) | Q(week_of=True, on__gte=monday),
        patient=OuterRef("patient"),
        on__lte=_covered(today),
        state=NextVisit.State.PLANNED,
    )


def _seen() -> QuerySet[Visit]:
    """The newest first."""
    return Visit.objects.filter(patient=OuterRef("patient"), clinician__isnull=False).order_by("-made_at")


# --- Loading with authorisation -----------------------------------------------------------------------------


def access_household(owner_id: int, *, actor: Actor, right: Right = Right.SEE) -> Owner:
    actor.require(right)
    phones = Prefetch("phones", Phone.objects.annotate(is_wrong=Exists(_wrong())))
    found = Owner.objects.annotate(reach=_reach("")).prefetch_related(phones)
    return get_object_or_404(found, pk=owner_id)


def access_call_back(call_back_id: int, *, owner: Owner, actor: Actor) -> CallBack:
    """One of this household's."""
    actor.require(Right.NOTE_CONTACT)
    rows = CallBack.objects.select_related("patient").filter(
        patient__ownerships__owner=owner, patient__ownerships__until=None
    )
    return get_object_or_404(rows.distinct(), pk=call_back_id)


def access_asking(asking_id: int, *, owner: Owner, actor: Actor) -> Asking:
    actor.require(Right.NOTE_CONTACT)
    return get_object_or_404(Asking, pk=asking_id, owner=owner)


def access_stop(stop_id: int, *, owner: Owner, actor: Actor) -> ReminderStop:
    actor.require(Right.NOTE_CONTACT)
    return get_object_or_404(ReminderStop, pk=stop_id, owner=owner)
