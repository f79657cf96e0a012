"""What prevention plugs into the registries of the clinic."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Model
from django.urls import reverse
from django.utils import timezone

from clinic.callbacks.models import CallBack
from clinic.letters.actions import brings_history
from clinic.letters.texts import SOURCE as ENGLISH
from clinic.patients.models import Patient
from clinic.people.actor import Actor
from clinic.platform.counting import how_many
from clinic.platform.kept_rows import rows_of
from clinic.platform.registries import (
    CallBackRow,
    Missing,
    StepState,
    calendar_parts,
    call_back_sources,
    exports,
    letter_parts,
    letter_texts,
    lifestyle_words,
    merges,
    morning_parts,
    outside_takers,
    patient_panels,
    sign_checks,
    sign_steps,
    summary_parts,
    thing_words,
    visit_steps,
)
from clinic.visits.calendar_file import Entry
from clinic.visits.models import Record, Visit
from preventive.actions.calendar import kept_up
from preventive.actions.dues import refresh_call_backs
from preventive.answered import DoseElsewhere
from preventive.call_backs import SOURCE
from preventive.due_rows import panel_of
from preventive.letter import ROOM, PreventionInLetter, PreventionTexts, thing
from preventive.models import (
    CalendarItem,
    Certificate,
    Decline,
    Deferral,
    Dose,
    Hold,
    LifeFact,
    OwnDate,
    Proof,
    Reaction,
    ReactionReport,
    SiteLook,
    Supply,
    TreatmentGiven,
)
from preventive.morning import LifeInWords, LotsThatEnd
from preventive.queries import (
    ENDED,
    call_back_rows,
    examined_on,
    groups_at,
    known_at,
    unanswered,
)
from preventive.records_pages import register_pages
from preventive.summary import PreventivesInSummary, VaccinesInSummary
from preventive.thing_words import DueWords
from preventive.versions import protocol_in_force


class PreventionStep:
    name, order, title = "prevention", 50, "Prevention"

    def url(self, visit: Visit) -> str:
        return reverse("visit-prevention", args=[visit.pk])

    def asks(self, visit: Visit) -> Mapping[str, Any]:
        here = {"visit": visit, "struck_at": None}
        due = CallBack.objects.filter(patient=visit.patient_id, source=SOURCE)
        on = timezone.localdate(visit.arrived_at or visit.made_at)
        return {
            "done": how_many(Dose.objects.filter(**here)) + how_many(Supply.objects.filter(**here)),
            "due": how_many(due.filter(due_on__lte=on)),
        }

    def state(self, visit: Visit, told: Mapping[str, Any]) -> StepState:
        """Cheap, as every page of a visit shows it: what was done here, or how much the cache calls due."""
        done, due = told["done"], told["due"]
        if done:
            return StepState("normal", f"{done} recorded")
        return StepState("flag", f"{due} due") if due else StepState("new", "nothing yet")


class PreventionAnswered:
    """Counted before signing, and never in its way: what is due and nobody spoke of."""

    name, order = "prevention", 50

    def missing(self, record: Record, *, actor: Actor) -> list[Missing]:
        visit = record.visit
        if visit.kind != Visit.Kind.FULL or visit.outcome in ENDED or visit.patient.deceased_on:
            return []
        today = timezone.localdate(visit.arrived_at or record.opened_at)
        protocol = protocol_in_force()
        groups = groups_at(known_at(visit, today=today), protocol, today=today)
        still = unanswered(record, groups, protocol, today=today)
        if not still:
            return []
        named = "; ".join(thing(group, ROOM.of_files(ENGLISH)) for group in still)
        sentence = f"Due, and neither done nor put off: {named}."
        return [Missing(self.name, sentence, reverse("visit-prevention", args=[visit.pk]), blocks=False)]


class RefreshDues:
    """The signature closes the examination, so what is due is reckoned anew in its transaction."""

    name, order = "dues", 80

    def run(self, record: Record, *, actor: Actor, now: datetime) -> None:
        visit, today = record.visit, timezone.localdate(now)
        if visit.outcome in ENDED:
            CallBack.objects.filter(patient=visit.patient, source=SOURCE).delete()
            return
        if brings_history():
            return
        seen = examined_on(visit, today=timezone.localdate(visit.arrived_at or record.opened_at))
        refresh_call_backs(patient=visit.patient, today=today, now=now, examined_on=seen)


@dataclass
class DuesInPatient:
    """On the patient's page."""

    name: str = "prevention"
    order: int = 30
    template: str = "preventive/panel.html"
    column: str = "side"

    def context(self, patient: Patient, *, actor: Actor, today: date) -> dict[str, Any]:
        return {"rows": panel_of(patient, today=today), "patient_id": patient.pk}


class DuesCallBack:
    name, order = SOURCE, 10

    def rows(self, patient: Patient, *, today: date) -> list[CallBackRow]:
        return call_back_rows(patient, today=today)

    def refresh(self, patient: Patient, *, today: date, now: datetime) -> int:
        """This room knows until when each answer holds, and asks no earlier (`preventive.tasks`)."""
        return refresh_call_backs(patient=patient, today=today, now=now)


class DuesInCalendar:
    """In the calendar file that goes with a letter, for an owner who has the dues in a calendar already."""

    name, order = "prevention", 50

    def entries(self, patient: Patient, *, now: datetime) -> list[Entry]:
        return kept_up(patient, now=now)


class MergeDues:
    """Doses stay with the row they were recorded for, and are read through it; only the cache moves."""

    name, order = "prevention", 50

    def merge(self, patient: Patient, *, into: Patient, actor: Actor, now: datetime) -> None:
        today = timezone.localdate(now)
        CallBack.objects.filter(patient=patient, source=SOURCE).delete()
        refresh_call_backs(patient=into, today=today, now=now)


# by the way from its row to the patient
EXPORTED: dict[type[Model], str] = {
    Dose: "patient",
    Supply: "patient",
    TreatmentGiven: "patient",
    Decline: "patient",
    Deferral: "patient",
    OwnDate: "patient",
    LifeFact: "patient",
    Hold: "patient",
    Reaction: "patient",
    ReactionReport: "reaction__patient",
    SiteLook: "dose__patient",
    Proof: "patient",
    Certificate: "patient",
    CalendarItem: "patient",
}


class PreventionExport:
    name, order = "prevention", 50

    def rows(self, patient: Patient) -> list[dict[str, Any]]:
        """All that was recorded for the patient, struck out too, with who entered it.

        A dose and a supply carry the questions of safety and how they were answered. The tests that the
        schedule reads are the record's. What was reckoned from all this is no record.
        """
        return rows_of(patient, EXPORTED)


def register() -> None:
    """Called once, when the app is ready."""
    visit_steps.add(PreventionStep())
    sign_checks.add(PreventionAnswered())
    sign_steps.add(RefreshDues())
    letter_parts.add(PreventionInLetter())
    letter_texts.add(PreventionTexts())
    summary_parts.add(VaccinesInSummary())
    summary_parts.add(PreventivesInSummary())
    patient_panels.add(DuesInPatient())
    call_back_sources.add(DuesCallBack())
    lifestyle_words.add(LifeInWords())
    morning_parts.add(LotsThatEnd())
    merges.add(MergeDues())
    calendar_parts.add(DuesInCalendar())
    exports.add(PreventionExport())
    outside_takers.add(DoseElsewhere())
    thing_words.add(DueWords())
    register_pages()
