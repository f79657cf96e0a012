"""The same few people in every test, and the situations they are in."""

import unicodedata
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.contrib.auth.hashers import make_password

from clinic.models import ClinicDetails, Owner, Ownership, Patient, Phone, Record, Staff, Visit
from clinic.people.actor import Actor

CLOCK = ZoneInfo("UTC")
TODAY = date(2026, 3, 11)
NOW = datetime(2026, 3, 11, 10, 0, tzinfo=CLOCK)
PASSWORD = "correct-horse-battery"
PIN = "4071"


@dataclass(frozen=True)
class People:
    """An owner's clinician, a colleague, a technician, an assistant, a manager."""

    clinician: Staff
    colleague: Staff
    technician: Staff
    assistant: Staff
    manager: Staff

    def actor(self, role: str) -> Actor:
        return Actor.of(getattr(self, role))


def unkept(name: str, *roles: str, **fields: object) -> Staff:
    """Somebody who is in no table yet."""
    first = name.split()[-2].lower() if " " in name else name.lower()
    plain = unicodedata.normalize("NFKD", first).encode("ascii", "ignore").decode()  # as browsers demand
    return Staff(
        email=f"{plain}@tailward.example",
        password=make_password(PASSWORD),
        full_name=name,
        printed_name=name,
        roles=list(roles),
        licence_number="L-1001" if "clinician" in roles else "",
        licence_place="Fenland" if "clinician" in roles else "",
        **fields,
    )


def staff(name: str, *roles: str, **fields: object) -> Staff:
    made = unkept(name, *roles, **fields)
    made.save()
    return made


def people() -> People:
    """All in one statement: nearly every test has them."""
    made = People(
        clinician=unkept("Dr Maren Oduya", "clinician"),
        colleague=unkept("Dr Tobias Falk", "clinician"),
        technician=unkept("Inés Varga", "technician"),
        assistant=unkept("Jonas Brel", "assistant"),
        manager=unkept("Ottoline Pryce", "manager"),
    )
    Staff.objects.bulk_create(vars(made).values())
    return made


def clinic_details() -> ClinicDetails:
    return ClinicDetails.objects.create(
        pk=1,
        name="Quillwater Animal Clinic",
        street="4 Weir Lane",
        city="Quillwater",
        country="US",
        phone="555-0100",
        emergency_name="Quillwater Animal Clinic, out of hours",
        emergency_phone="555-0199",
        email="desk@quillwater.example",
    )


def owner(name: str = "Henrike Dovale", email: str = "henrike@example.com") -> Owner:
    given, family = name.rsplit(" ", 1)
    made = Owner.objects.create(
        given_name=given,
        family_name=family,
        email=email,
        email_state="untried" if email else "none",
        search=name.lower(),
        made_at=NOW,
    )
    Phone.objects.create(owner=made, number="555-0142", digits="5550142")
    return made


def patient(name: str = "Pomfret", *, of: Owner | None = None, **fields: object) -> Patient:
    facts: dict[str, object] = {
        "species": "dog",
        "breed": "lurcher cross",
        "sex": "male",
        "neutered": "yes",
        "birth_date": date(2018, 1, 9),
        "birth_precision": "day",
        "search": name.lower(),
        "made_at": NOW,
    }
    made = Patient.objects.create(name=name, **(facts | fields))
    Ownership.objects.create(patient=made, owner=of or owner(), is_first=True, since=TODAY)
    return made


def visit_here(of: Patient | None = None, *, clinician: Staff | None = None, **fields: object) -> Visit:
    """A visit with the clinician, its record open."""
    made = Visit.objects.create(
        patient=of or patient(),
        place="with-clinician",
        place_since=NOW,
        arrived_at=NOW,
        made_at=NOW,
        clinician=clinician,
        **fields,
    )
    Record.objects.create(visit=made, opened_at=NOW)
    return made


def weigh(visit: Visit, kg: str, *, by: Staff) -> None:
    visit.patient.measurements.create(
        visit=visit,
        kind="weight",
        typed=Decimal(kg),
        unit="kg",
        value=Decimal(kg),
        measured_at=NOW,
        recorded_at=NOW,
        observed_by=by,
        entered_by=by,
    )
