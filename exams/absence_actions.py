"""Lasting facts of a patient in its open exams: a part that is gone, and one that is there after all."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import transaction

from clinic.patients.actions import strike_lasting_fact
from clinic.patients.models import LastingFact, Patient
from clinic.people.actor import Actor
from clinic.people.rights import Right
from clinic.visits.actions.common import hold_open
from clinic.visits.models import Record
from exams.errors import NoneStruck
from exams.lines import LIMB_WORDS, Lines, takes_away
from exams.models import Exam
from exams.rows import absence_of, absences_of, sex_json


@transaction.atomic
def there_is_one(*, record: Record, line: str, reason: str, actor: Actor, now: datetime) -> None:
    """A part that was noted as gone is there: its facts are struck out, with the reason.

    Raises RecordSigned by its record, NoneStruck where no fact takes this line away or no reason is given.
    """
    actor.require(Right.ASSESS)
    held = hold_open(record)
    facts = LastingFact.objects.filter(patient_id=held.visit.patient_id, struck_at=None)
    wrong = [fact for fact in facts if takes_away(absence_of(fact), line)]
    if not wrong or not reason.strip():
        raise NoneStruck
    for fact in wrong:
        strike_lasting_fact(fact=fact, reason=reason, actor=actor, now=now)


def absence_words(lines: Lines, line: str, what: str) -> str:
    """The part in words, for the patient's page: "left hind leg", "ear canal, left", "tooth 409"."""
    kind, _, name = what.partition(":")
    if kind == "limb":
        return f"{LIMB_WORDS[name]} leg"
    if kind == "tooth":
        return f"tooth {name}"
    gone = lines[line]
    plain = gone.name[:1].lower() + gone.name[1:] if gone.name[1:2].islower() else gone.name
    return f"{plain}, {gone.side_words}" if gone.side_words else plain


class OpenExamsKnow:
    """What became known of a patient today is known to its exams that are open, at once."""

    name, order = "exams", 10

    def changed(self, patient: Patient, *, actor: Actor, now: datetime) -> None:
        """A part that is gone, and a sex that was corrected, count where the animal still is; a part that
        is there counts everywhere."""
        facts, sexed = absences_of(patient), sex_json(patient)
        there = {what for what, _ in facts}
        unsigned = Exam.objects.filter(record__visit__patient=patient, record__signed_at=None)
        for exam in unsigned.select_related("record__visit").order_by("pk"):
            hold_open(exam.record)
            fresh = Exam.objects.get(pk=exam.pk)
            left = exam.record.visit.gone_at is not None
            had: list[list[Any]] = fresh.animal["absences"]
            now_has = [each for each in had if each[0] in there] if left else facts
            animal = {**fresh.animal, "absences": now_has, **({} if left else sexed)}
            if animal != fresh.animal:
                fresh.animal = animal
                fresh.revision += 1
                fresh.save(update_fields=["animal", "revision"])
