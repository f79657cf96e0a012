"""A clinic with its foods, and animals that were weighed and scored today."""

from pathlib import Path

from django.test import Client

from clinic.models import Record, Visit
from nutrition import actions
from nutrition.choices import Choices
from nutrition.foods import read
from nutrition.models import Plan
from tests import people

FOODS = Path(__file__).parents[2] / "fixtures" / "foods.toml"
DRY, LIGHT = "tarrock-adult-dry", "tarrock-light-dry"


def house_with_foods() -> people.People:
    people.clinic_details()
    made = people.people()
    actions.load_foods(actor=made.actor("manager"), now=people.NOW, foods=read(FOODS))
    return made


def weighed(house: people.People, kg: str = "27.4", bcs: str = "5", **visit: object) -> Record:
    made = people.visit_here(clinician=house.clinician, **visit)
    people.weigh(made, kg, by=house.technician)
    score(made, bcs, house)
    return made.record


def score(visit: Visit, points: str, house: people.People) -> None:
    visit.patient.measurements.create(
        visit=visit, kind="bcs", typed=points, unit="bcs-9", value=points, measured_at=people.NOW,
        recorded_at=people.NOW, observed_by=house.clinician, entered_by=house.clinician,
    )  # fmt: skip


def ill(record: Record, code: str, house: people.People) -> None:
    record.visit.patient.conditions.create(
        code=code, since=people.TODAY, entered_by=house.clinician, entered_at=people.NOW
    )


def eats(record: Record, house: people.People, food: str = "Tarrock adult dry", **fields: object) -> None:
    facts = {"part": "meal", "food": food, "amount": "175", "unit": "g a day", "since": people.TODAY}
    record.visit.patient.diet_entries.create(
        **facts | fields, visit=record.visit, entered_by=house.technician, entered_at=people.NOW
    )


def advise(house: people.People, record: Record, **choices: object) -> Plan:
    facts = {"shares": {DRY: 100.0}} | choices
    return actions.make_plan(
        actor=house.actor("clinician"), now=people.NOW, record=record, choices=Choices(**facts)
    )


def keep(house: people.People, record: Record, until: str = "until we call", **more: object) -> Plan:
    return actions.keep_feeding(
        actor=house.actor("clinician"), now=people.NOW, record=record, until=until, **more
    )


def visitor(house: people.People, who: str = "clinician") -> Client:
    client = Client()
    client.force_login(getattr(house, who))
    return client


def url(record: Record) -> str:
    return f"/visits/{record.visit_id}/feeding/"
