"""What the patient record holds of one patient, for the export of upper rooms' rows beside its own."""

from typing import Any

from django.db.models import Model

from clinic import models
from clinic.patients.models import Patient
from clinic.platform.kept_rows import rows_of

OF_RECORD = "record__visit__patient"
# by the way from its row to the patient; what is reckoned now, and post to a household, is no record of it
EXPORTED: dict[type[Model], str] = {
    models.Patient: "pk",
    models.Ownership: "patient",
    models.Owner: "ownerships__patient",
    models.Phone: "owner__ownerships__patient",
    models.Microchip: "patient",
    models.Alert: "patient",
    models.Condition: "patient",
    models.LastingFact: "patient",
    models.LifestyleAnswer: "patient",
    models.DietEntry: "patient",
    models.Measurement: "patient",
    models.Visit: "patient",
    models.Record: "visit__patient",
    models.HistoryAnswer: OF_RECORD,
    models.GivenAtHome: OF_RECORD,
    models.HeadsUp: OF_RECORD,
    models.ChipScan: OF_RECORD,
    models.Addendum: OF_RECORD,
    models.Problem: "patient",
    models.ProblemTurn: "problem__patient",
    models.ProblemCondition: "problem__patient",
    models.Assessment: OF_RECORD,
    models.PlanLine: OF_RECORD,
    models.PlanProgress: "line__record__visit__patient",
    models.Medicine: OF_RECORD,
    models.MedicineStop: "medicine__record__visit__patient",
    models.DoseGiven: "medicine__record__visit__patient",
    models.Test: "patient",
    models.TestResult: "test__patient",
    models.ResultFile: "test__patient",
    models.Contact: "patient",
    models.PromiseStep: "patient",
    models.NextVisit: "patient",
    models.Letter: "patient",
    models.LetterHanded: "letter__patient",
    models.Summary: "patient",
    models.Death: "patient",
    models.BodyDecision: "death__patient",
    models.CallBackWas: "patient",
}


class RecordExport:
    name, order = "record", 10

    def rows(self, patient: Patient) -> list[dict[str, Any]]:
        """All that was recorded, struck out too, with who entered it."""
        return rows_of(patient, EXPORTED)
