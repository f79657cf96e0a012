"""What an action of care may refuse; each message is one sentence for the person at the tablet."""

from clinic.care.guards import Question
from clinic.care.models import Problem
from clinic.visits.errors import VisitError


class CareError(VisitError):
    """Refused; nothing was changed. `field` names the field it belongs to, where there is one."""

    field: str | None = None


class ProblemClosed(CareError):
    """A closed problem takes no new assessment or plan line; open it again first."""

    def __init__(self, title: str) -> None:
        super().__init__(f"“{title}” is closed. Open it again first.")


class AlreadyOpen(CareError):
    """The same lines have an open problem already; `problem` is the one."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        super().__init__(f"This has an open problem already: “{problem.title}”.")


class WrongPatient(CareError):
    """The problem belongs to another patient than the record."""

    def __init__(self) -> None:
        super().__init__("This problem belongs to another patient.")


class TextMissing(CareError):
    """Something must be said and was not."""

    def __init__(self, field: str, sentence: str) -> None:
        self.field = field
        super().__init__(sentence)


class DeclineIncomplete(CareError):
    """A decline says what was advised, why it was declined, which risks, and who explained them."""

    def __init__(self, field: str = "declined_why") -> None:
        self.field = field
        super().__init__("Declined: say the owner’s reason, the risks, and who explained them.")


class ConsentIncomplete(CareError):
    """A consent says who gave it, and how."""

    field = "consent_by"

    def __init__(self) -> None:
        super().__init__("Consented: say who agreed, and whether in words or in writing.")


class DateWithoutPerson(CareError):
    """Whatever has a date has a person who answers for it."""

    field = "answerable"

    def __init__(self) -> None:
        super().__init__("A day needs a person who answers for it.")


class OwnerSentenceMissing(CareError):
    """A result is read with a sentence for the owner."""

    field = "for_owner"

    def __init__(self) -> None:
        super().__init__("Say in one sentence what the result means for the owner.")


class SideMissing(CareError):
    """An ear or an eye has a side."""

    field = "side"

    def __init__(self) -> None:
        super().__init__("Which side: left, right or both?")


class QuestionsOpen(CareError):
    """The medicine raises questions that have no reason yet; `questions` are these."""

    def __init__(self, questions: tuple[Question, ...]) -> None:
        self.questions = questions
        super().__init__("Before it is recorded: " + " ".join(each.sentence for each in questions))


class CorrectionOutdated(CareError):
    """The parts changed after the sentence was corrected; `composed` is what they say now."""

    field = "own_words"

    def __init__(self, composed: str) -> None:
        self.composed = composed
        super().__init__(f"The parts were changed after you corrected the sentence. They say now: {composed}")


class HasTest(CareError):
    """A plan line that a test stands on goes with the test."""

    def __init__(self) -> None:
        super().__init__("A test was taken for this line. Take the test back instead.")


class HasResult(CareError):
    """A test with a result is not taken back: a result is struck out, never erased."""

    def __init__(self, title: str) -> None:
        super().__init__(f"{title} has a result already: it stays.")
