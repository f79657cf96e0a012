"""The intake page as plain values, block by block. Each block can be shown, and saved, alone."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.utils import timezone

from clinic.patients.models import DietEntry, Measurement, Patient
from clinic.people.actor import Actor
from clinic.people.models import Staff
from clinic.platform.registries import HeadsUpPlace, heads_up_places, intake_panels
from clinic.visits.lifestyle import LIFE_ANSWERS, Question, questions_for
from clinic.visits.models import GivenAtHome, HeadsUp, HistoryAnswer, Record, Visit
from clinic.visits.topics import ANSWERS, TOPICS

REGIONS = (
    ("head", "Head"),
    ("back", "Back"),
    ("chest", "Chest"),
    ("belly", "Belly"),
    ("rear", "Rear"),
    ("front-legs", "Front legs"),
    ("hind-legs", "Hind legs"),
    ("all-over", "All over"),
)
SPARE_ROWS = 1
MORE_ROWS = 4


@dataclass(frozen=True)
class Part:
    """A line of the page's own contents: where, how far."""

    anchor: str
    title: str
    shape: str
    words: str


@dataclass(frozen=True)
class Choice:
    code: str
    title: str
    shape: str
    chosen: bool


@dataclass(frozen=True)
class TopicRow:
    code: str
    title: str
    hint: str
    choices: tuple[Choice, ...]
    words: str
    answered: bool


@dataclass(frozen=True)
class GivenRow:
    id: int
    name: str
    small: str


@dataclass(frozen=True)
class HeadsUpRow:
    id: str
    where: str
    words: str
    by: str
    answer: str


@dataclass(frozen=True)
class FoodRow:
    """One food as it stands, or as it was typed. Empty: a row to write in."""

    food: str = ""
    amount: str = ""
    unit: str = ""
    how: str = DietEntry.How.TOLD


@dataclass(frozen=True)
class FoodGroup:
    part: str
    title: str
    hint: str
    rows: tuple[FoodRow, ...]


@dataclass(frozen=True)
class LifeRow:
    code: str
    title: str
    small: str
    choices: tuple[Choice, ...]


@dataclass(frozen=True)
class Place:
    region: str
    title: str
    stations: tuple[HeadsUpPlace, ...]


FOOD_PARTS = (
    (DietEntry.Part.MEAL, "Meals", "ask for the scoop; weigh one if you can"),
    (DietEntry.Part.TREAT, "Treats", "also what hides a tablet"),
    (DietEntry.Part.OTHER, "From the table, and from others", "children, neighbours, the other bowl"),
)
UNITS = (
    "g a day",
    "oz a day",
    "cups a day",
    "tins a day",
    "pieces a day",
    "pieces a week",
    "spoons a day",
    "not known",
)


def topics(record: Record) -> tuple[TopicRow, ...]:
    """Every topic with the answer it has so far; nothing is chosen for anybody."""
    given = {answer.topic: answer for answer in HistoryAnswer.objects.filter(record=record)}
    return tuple(
        TopicRow(
            code=topic.code,
            title=topic.title,
            hint=topic.hint,
            choices=tuple(
                Choice(code, title, shape, bool(answer and answer.answer == code))
                for code, title, shape in ANSWERS
            ),
            words=answer.words if answer else "",
            answered=answer is not None,
        )
        for topic in TOPICS
        for answer in (given.get(topic.code),)
    )


def given_rows(record: Record) -> tuple[GivenRow, ...]:
    """What the owner says is given."""
    return tuple(
        GivenRow(
            id=given.pk,
            name=given.name,
            small=", ".join(
                part
                for part in (given.how_much, given.last_given and f"last given {given.last_given}")
                if part
            ),
        )
        for given in GivenAtHome.objects.filter(record=record).order_by("pk")
    )


def heads_up_rows(record: Record) -> tuple[HeadsUpRow, ...]:
    """Heads-ups of the visit, as pinned."""
    titles = {place.name: place.title for place in heads_up_places}
    return tuple(
        HeadsUpRow(
            id=str(each.pk),
            where=", ".join(part for part in (titles.get(each.station, each.station), each.side) if part),
            words=each.words,
            by=f"{each.by.full_name}, {timezone.localtime(each.at):%H:%M}",
            answer=_answer_words(each),
        )
        for each in HeadsUp.objects.filter(record=record).select_related("by")
    )


def _answer_words(each: HeadsUp) -> str:
    if not each.answer:
        return ""
    reason = f": {each.answer_reason}" if each.answer_reason else ""
    return f"{each.get_answer_display()}{reason}"


def places() -> tuple[Place, ...]:
    """Regions of the outline with the stations that lie there; empty while no room has brought stations."""
    stations = list(heads_up_places)
    found = (
        Place(region, title, tuple(each for each in stations if each.region == region))
        for region, title in REGIONS
    )
    return tuple(place for place in found if place.stations)


def food_groups(patient: Patient, *, spare: int = SPARE_ROWS) -> tuple[FoodGroup, ...]:
    """The diet as it stands, with empty rows to write in."""
    entries = list(DietEntry.objects.filter(patient=patient, until=None).order_by("pk"))
    return tuple(
        FoodGroup(
            part=part,
            title=title,
            hint=hint,
            rows=(*(_food(entry) for entry in entries if entry.part == part), *(FoodRow(),) * spare),
        )
        for part, title, hint in FOOD_PARTS
    )


def groups_as_typed(rows: Sequence[Mapping[str, str]]) -> tuple[FoodGroup, ...]:
    """What was typed, shown again when it was refused."""
    return tuple(
        FoodGroup(
            part=part,
            title=title,
            hint=hint,
            rows=tuple(
                FoodRow(row["food"], row["amount"], row["unit"], row["how"])
                for row in rows
                if row["part"] == part
            ),
        )
        for part, title, hint in FOOD_PARTS
    )


def _food(entry: DietEntry) -> FoodRow:
    amount = f"{entry.amount.normalize():f}" if entry.amount is not None else ""
    return FoodRow(food=entry.food, amount=amount, unit=entry.unit, how=entry.how)


@dataclass(frozen=True)
class Life:
    """What is to be asked again, and what is not due yet."""

    ask: tuple[LifeRow, ...]
    rest: tuple[LifeRow, ...]


def lifestyle(patient: Patient, *, today: date) -> Life:
    """The questions of this species; one is asked again from its review date on."""
    answers = {answer.code: answer for answer in patient.lifestyle.all()}
    ask: list[LifeRow] = []
    rest: list[LifeRow] = []
    for question in questions_for(patient.species):
        answer = answers.get(question.code)
        fresh = answer is not None and answer.review_on > today
        row = _life_row(question, answer.answer if answer else "", answer.answered_at if answer else None)
        (rest if fresh else ask).append(row)
    return Life(ask=tuple(ask), rest=tuple(rest))


def _life_row(question: Question, answer: str, at: datetime | None) -> LifeRow:
    words = {code: title for code, title, _shape in LIFE_ANSWERS}
    small = f"{timezone.localtime(at):%-d %b %Y}: {words.get(answer, answer)}" if at else "not asked yet"
    return LifeRow(
        code=question.code,
        title=question.title,
        small=small,
        choices=tuple(Choice(code, title, shape, False) for code, title, shape in LIFE_ANSWERS),
    )


def parts(visit: Visit, *, today: date) -> tuple[Part, ...]:
    """How far each block is."""
    record = visit.record
    answered = HistoryAnswer.objects.filter(record=record).count()
    given = GivenAtHome.objects.filter(record=record).count()
    foods = DietEntry.objects.filter(patient=visit.patient, until=None).count()
    measured = Measurement.objects.filter(visit=visit, struck_at=None).count()
    flags = HeadsUp.objects.filter(record=record).count()
    ask = len(lifestyle(visit.patient, today=today).ask)
    return (
        _part("why", "Why", bool(visit.owners_words), "told", "not asked"),
        _part("food", "Food", foods > 0, _many(foods, "food"), "not asked"),
        _part("given", "Given", given > 0, f"{given} listed", "none listed"),
        _part(
            "changes", "Changes", answered == len(TOPICS), f"{answered} asked", f"{answered} asked", answered
        ),
        _part("measured", "Measured", measured > 0, f"{measured} taken", "not yet"),
        Part("flags", "Heads-up", "flag" if flags else "new", f"{flags} pinned" if flags else "none"),
        _part("home", "At home", ask == 0, "all known", f"{ask} to ask"),
    )


def _part(anchor: str, title: str, done: bool, words: str, open_words: str, begun: int = 0) -> Part:
    shape = "normal" if done else "begun" if begun else "new"
    return Part(anchor, title, shape, words if done else open_words)


def _many(count: int, noun: str) -> str:
    return f"{count} {noun}{'' if count == 1 else 's'}"


def clinicians() -> tuple[Staff, ...]:
    """Who can be handed a patient."""
    return tuple(Staff.objects.filter(is_active=True, roles__contains=["clinician"]).order_by("full_name"))


def panels(visit: Visit, *, actor: Actor, today: date) -> tuple[dict[str, object], ...]:
    """What the other rooms ask at intake, as template and values."""
    asked = ((panel, panel.context(visit, actor=actor, today=today)) for panel in intake_panels)
    return tuple(
        {"name": panel.name, "title": panel.title, "template": panel.template, "values": values}
        for panel, values in asked
        if values
    )
