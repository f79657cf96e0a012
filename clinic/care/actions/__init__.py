"""Every change of what follows from an examination: credited, dated, and frozen with its record."""

from clinic.care.actions.assessments import assess, withdraw_assessment
from clinic.care.actions.medicines import prescribe, withdraw_medicine
from clinic.care.actions.plan_lines import add_plan_line, progress, withdraw_plan_line
from clinic.care.actions.problems import add_lines, close_problem, open_problem, reopen_problem
from clinic.care.actions.tests import (
    enter_result,
    order_test,
    read_result,
    send_out,
    take_in_house,
    withdraw_test,
)
from clinic.care.errors import (
    AlreadyOpen,
    CareError,
    ConsentIncomplete,
    CorrectionOutdated,
    DateWithoutPerson,
    DeclineIncomplete,
    OwnerSentenceMissing,
    ProblemClosed,
    QuestionsOpen,
    SideMissing,
    TextMissing,
    WrongPatient,
)

__all__ = [
    "AlreadyOpen",
    "CareError",
    "ConsentIncomplete",
    "CorrectionOutdated",
    "DateWithoutPerson",
    "DeclineIncomplete",
    "OwnerSentenceMissing",
    "ProblemClosed",
    "QuestionsOpen",
    "SideMissing",
    "TextMissing",
    "WrongPatient",
    "add_lines",
    "add_plan_line",
    "assess",
    "close_problem",
    "enter_result",
    "open_problem",
    "order_test",
    "prescribe",
    "progress",
    "read_result",
    "reopen_problem",
    "send_out",
    "take_in_house",
    "withdraw_assessment",
    "withdraw_medicine",
    "withdraw_plan_line",
    "withdraw_test",
]
