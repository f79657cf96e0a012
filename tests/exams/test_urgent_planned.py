"""No urgent finding is ever signed without a plan line (common practice)."""

from collections.abc import Sequence

import pytest
from django.db import transaction
from hypothesis import given, settings
from hypothesis import strategies as st

from clinic.care import actions
from clinic.models import Medicine, PlanLine, Problem, Record, Test
from clinic.platform.registries import sign_checks
from clinic.visits.actions import set_kind, sign
from clinic.visits.errors import NotReady
from exams.models import Finding
from tests import people
from tests.examples import examples
from tests.exams.house import Tablet, exam_here

pytestmark = pytest.mark.django_db

# line, code, class (exams/walk/EAR.toml, EYE.toml)
URGENT = (
    ("EAR.canal|left", "EAR-03", "T"),
    ("EAR.canal|right", "EAR-03", "T"),
    ("EAR.pinna|left", "EAR-12", "T"),
    ("EYE.globe|left", "EYE-29", "E"),
)
DECLINED = {"declined_why": "wants to wait", "risks_explained": "it may get worse"}
STEPS = ("find", "normal", "open", "advise", "decline", "decline-and-return", "test", "back", "close")
scripts = st.lists(st.tuples(st.sampled_from(STEPS), st.integers(0, len(URGENT) - 1)), max_size=12)


class Undo(Exception):
    """Rolls an example's rows back."""


class Clinic:
    """One clinician with a focused exam, who does things in any order and then tries to sign."""

    def __init__(self) -> None:
        people.clinic_details()
        self.house = people.people()
        self.visit = people.visit_here(clinician=self.house.clinician)
        self.me = {"actor": self.house.actor("clinician"), "now": people.NOW}
        set_kind(visit=self.visit, kind="focused", reason="the left ear", **self.me)
        people.weigh(self.visit, "27.4", by=self.house.technician)
        self.tablet: Tablet = exam_here(self.me["actor"], self.visit)
        self.record = Record.objects.select_related("visit__patient").get(visit=self.visit)
        self.record.no_bcs_reason = "would not stand"
        self.record.save()
        self.tablet.tap("EAR.pinna|right", "set_normal")

    def does(self, step: str, which: int) -> None:
        line, code, urgency = URGENT[which]
        if step == "find":
            finding = {"code": code} | ({"severity": "mild"} if code == "EAR-03" else {})
            told = self.tablet.tap(line, "set_abnormal", {"findings": [finding]})
            assert told["result"] == "accepted", told
        elif step == "normal":
            self.tablet.tap(line, "set_normal")
        elif step == "open" and not self.problem(line):
            actions.open_problem(
                patient=self.visit.patient,
                visit=self.visit,
                title=code,
                lines=[line],
                urgency=urgency,
                **self.me,
            )
        elif problem := self.problem(line):
            self.about(step, problem)

    def problem(self, line: str) -> Problem | None:
        return Problem.objects.filter(lines__contains=[line], closed_at=None).first()

    def about(self, step: str, problem: Problem) -> None:
        common = {"record": self.record, "problem": problem, **self.me}
        if step == "advise":
            actions.add_plan_line(kind="recheck", text="Look again", **common)
        elif step in ("decline", "decline-and-return"):
            back = "at once when it hurts" if step == "decline-and-return" else ""
            facts = DECLINED | {"explained_by": self.house.clinician, "come_back": back}
            actions.add_plan_line(
                kind="procedure", text="Look deeper", standing="declined", **facts, **common
            )
        elif step == "test":
            actions.send_out(title="Swab", **common)
        elif step == "close":
            actions.close_problem(problem=problem, reason="was none", **self.me)
        elif step == "back" and (line := problem.plan_lines.filter(tests=None).last()):
            actions.withdraw_plan_line(line=line, **self.me)

    def unplanned(self) -> list[str]:
        """By the rows alone: urgent findings of the record that nothing was planned for."""
        planned = {
            *PlanLine.objects.filter(record=self.record).values_list("problem", flat=True),
            *Medicine.objects.filter(record=self.record).values_list("problem", flat=True),
            *Test.objects.filter(record=self.record).values_list("plan_line__problem", flat=True),
        }
        spoken = {
            line for problem in Problem.objects.filter(pk__in=planned - {None}) for line in problem.lines
        }
        codes = {code for _, code, _ in URGENT}
        rows = Finding.objects.filter(exam__record=self.record, status="abnormal")
        found = {row.line for row in rows if codes & {each["code"] for each in row.findings}}
        return sorted(found - spoken)


def play(steps: Sequence[tuple[str, int]]) -> list[str]:
    """Findings signed without a plan; nothing of it stays."""
    left: list[str] = []
    try:
        with transaction.atomic():
            clinic = Clinic()
            for step, which in steps:
                clinic.does(step, which)
            try:
                with transaction.atomic():
                    sign(record=clinic.record, **clinic.me)
            except NotReady:
                pass  # whatever is missing: nothing was signed
            else:
                left = clinic.unplanned()
            raise Undo
    except Undo:
        return left


@given(scripts)
@settings(max_examples=examples(15))
def test_no_urgent_finding_is_signed_without_a_plan(steps):
    assert play(steps) == []


def test_it_would_be_noticed(monkeypatch):
    """Without the exam's check the same script ends with an urgent finding that nobody planned for."""
    monkeypatch.setattr(
        sign_checks, "_entries", {k: v for k, v in sign_checks._entries.items() if "exam" not in k}
    )
    assert play([("find", 0)]) == ["EAR.canal|left"]


@pytest.mark.parametrize(
    ("steps", "missing"),
    [
        ([("find", 0)], ["exam-plan:EAR-03"]),
        ([("find", 0), ("open", 0), ("decline", 0)], []),
        ([("find", 0), ("open", 0), ("advise", 0), ("back", 0)], ["exam-plan:EAR-03"]),
        ([("find", 0), ("find", 1), ("open", 0), ("advise", 0)], ["exam-plan:EAR-03"]),
        ([("find", 3), ("open", 3), ("decline", 3)], ["emergency-declined"]),
        ([("find", 3), ("open", 3), ("decline-and-return", 3)], []),
        ([("find", 3), ("open", 3), ("decline", 3), ("test", 3)], []),
    ],
)
def test_what_stands_in_the_way(steps, missing):
    clinic = Clinic()
    for step, which in steps:
        clinic.does(step, which)
    found = [
        each.code
        for check in sign_checks
        for each in check.missing(clinic.record, actor=clinic.me["actor"])
        if each.blocks
    ]
    assert [code.rpartition(":")[0] if code.startswith("emergency") else code for code in found] == missing
