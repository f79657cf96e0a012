"""The rows of Today for what is still to come and what is owed."""

from dataclasses import dataclass, replace

from django.urls import reverse
from django.utils import timezone

from clinic.care.models import TestResult
from clinic.mail.telling import told
from clinic.platform.registries import Flag
from clinic.visits import day
from clinic.visits.drawings import minutes_in_words
from clinic.visits.models import NextVisit, Visit
from clinic.visits.today_sight import Animal, Sight, animal_of, minutes_since, number_of, step_url, when

LATE_MINUTES = 15


@dataclass(frozen=True)
class Coming:
    at: str
    title: str
    animals: tuple[Animal, ...]
    late: str
    planned: bool


@dataclass(frozen=True)
class Owed:
    """Something that stands open: a name, small words, a mark; `call` is a telephone number."""

    name: str
    url: str
    words: str
    mark: Flag
    call: str = ""
    visit_id: int = 0


def coming_rows(expected: list[Visit], plans: list[NextVisit], sight: Sight) -> tuple[Coming, ...]:
    together: dict[tuple[object, object], list[Visit]] = {}
    for visit in expected:
        owner = sight.owners.get(visit.patient_id)
        together.setdefault((visit.expected_at, owner.pk if owner else visit.pk), []).append(visit)
    rows = [_expected(visits, sight) for visits in together.values()]
    for plan in plans:
        at = "this week" if plan.week_of else plan.at.strftime("%H:%M") if plan.at else "today"
        url = reverse("patient", args=[plan.patient_id])
        animal = animal_of(plan.patient, url, sight)
        who = f"{plan.get_kind_display()}, planned by {plan.by.full_name}: {plan.reason}"
        rows.append(Coming(at=at, title="", animals=(_with_why(animal, who),), late="", planned=True))
    return tuple(sorted(rows, key=lambda row: (not row.at[:1].isdigit(), row.at)))


def _expected(visits: list[Visit], sight: Sight) -> Coming:
    assert visits[0].expected_at
    at = timezone.localtime(visits[0].expected_at)
    any_time = (at.hour, at.minute) == (0, 0)
    late = 0 if any_time else minutes_since(at, sight.now)
    many = len(visits)
    owner = sight.owners.get(visits[0].patient_id)
    title = f"{owner.family_name} household: one arrival, {many} exams" if many > 1 and owner else ""
    return Coming(
        at="today" if any_time else f"{at:%H:%M}",
        title=title,
        animals=tuple(
            _with_why(animal_of(v.patient, reverse("patient", args=[v.patient_id]), sight), v.booked_for)
            for v in visits
        ),
        late=f"{minutes_in_words(late)} late" if late >= LATE_MINUTES else "",
        planned=False,
    )


def _with_why(animal: Animal, why: str) -> Animal:
    return replace(animal, why=why)


def coming_words(coming: tuple[Coming, ...]) -> str:
    animals = sum(len(row.animals) for row in coming)
    return (
        f"{number_of(animals, 'animal').lower()}, {number_of(len(coming), 'arrival').lower()}"
        if coming
        else ""
    )


def unsigned_row(left: day.Unsigned, sight: Sight) -> Owed:
    visit = left.record.visit
    assert visit.gone_at
    who = f", {visit.clinician.full_name}" if visit.clinician else ""
    mark = Flag("flag", "heads-up open") if left.has_heads_up else Flag("abnormal", "not signed")
    return Owed(
        name=visit.patient.name,
        url=step_url(visit, "sign"),
        words=f"{when(visit.gone_at, sight.today)}{who}",
        mark=mark,
    )


def letterless_row(left: day.Letterless, sight: Sight) -> Owed:
    """Where the letter is given, sent again or signed; with a telephone for whoever cannot be mailed."""
    visit, letter, message = left.visit, left.letter, left.message
    assert visit.gone_at
    owner = sight.owners.get(visit.patient_id)
    who = ", ".join(part for part in (when(visit.gone_at, sight.today), owner.name if owner else "") if part)
    if letter is None:
        return Owed(visit.patient.name, step_url(visit, "sign"), who, Flag("abnormal", "not signed yet"))
    if message is None:
        mark = Flag("unseen", "no mail: give it on paper")
    else:
        mail = told(message.state, message.state_why)
        mark = Flag(mail.shape, mail.words)
    phone = next((each.number for each in owner.phones.all()), "") if owner else ""
    return Owed(visit.patient.name, reverse("letter", args=[letter.pk]), who, mark, call=phone)


def result_row(result: TestResult, sight: Sight) -> Owed:
    test = result.test
    came = when(result.resulted_at, sight.today)
    return Owed(
        name=test.patient.name,
        url=f"{reverse('visit-plan', args=[test.record.visit_id])}#test-{test.pk}",
        words=f"{test.title}, {came}; ordered by {test.ordered_by.full_name}",
        mark=Flag("abnormal", "not read"),
    )


def missed_row(visit: Visit, sight: Sight) -> Owed:
    owner = sight.owners.get(visit.patient_id)
    phone = next((phone.number for phone in owner.phones.all()), "") if owner else ""
    assert visit.expected_at
    words = [visit.booked_for, when(visit.expected_at, sight.today), owner.name if owner else ""]
    return Owed(
        name=visit.patient.name,
        url=reverse("patient", args=[visit.patient_id]),
        words=", ".join(part for part in words if part),
        mark=Flag("unseen", "did not come"),
        call=phone,
        visit_id=visit.pk if visit.place == Visit.Place.EXPECTED else 0,
    )
