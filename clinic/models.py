"""One app, divided by subject: Django finds every model here."""

from clinic.callbacks.models import CallBack
from clinic.care.models import Assessment, Medicine, PlanLine, PlanProgress, Problem, Test, TestResult
from clinic.letters.models import Correction, Letter, LetterFile
from clinic.mail.models import Message, MessageStep
from clinic.patients.models import (
    Alert,
    Condition,
    DietEntry,
    LastingFact,
    LifestyleAnswer,
    Measurement,
    Microchip,
    Ownership,
    Patient,
)
from clinic.people.models import Grant, Invitation, Owner, Phone, Staff, Tablet
from clinic.platform.models import ClinicDetails, DataVersion, SentOnce
from clinic.visits.models import (
    Addendum,
    Arrival,
    GivenAtHome,
    HeadsUp,
    HistoryAnswer,
    NextVisit,
    PlaceStep,
    Record,
    Visit,
)

__all__ = [
    "Addendum",
    "Alert",
    "Arrival",
    "Assessment",
    "CallBack",
    "ClinicDetails",
    "Condition",
    "Correction",
    "DataVersion",
    "DietEntry",
    "GivenAtHome",
    "Grant",
    "HeadsUp",
    "HistoryAnswer",
    "Invitation",
    "LastingFact",
    "Letter",
    "LetterFile",
    "LifestyleAnswer",
    "Measurement",
    "Medicine",
    "Message",
    "MessageStep",
    "Microchip",
    "NextVisit",
    "Owner",
    "Ownership",
    "Patient",
    "Phone",
    "PlaceStep",
    "PlanLine",
    "PlanProgress",
    "Problem",
    "Record",
    "SentOnce",
    "Staff",
    "Tablet",
    "Test",
    "TestResult",
    "Visit",
]
