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

    def __init__(self, field: str = "consent_by") -> None:
        self.field = field
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


class HasDoses(CareError):
    """A medicine of which a dose was given, even one struck out since, is not taken back but stopped."""

    def __init__(self, name: str) -> None:
        super().__init__(f"A dose of {name} is on record, so its order stays. Stop it instead.")


class StoppedBefore(CareError):
    """Somebody stopped it already."""

    def __init__(self, name: str) -> None:
        super().__init__(f"{name} was stopped already: see below when, and why.")


class StoppedTooEarly(CareError):
    """The day lies before the medicine was directed."""

    field = "on"

    def __init__(self) -> None:
        super().__init__("That day lies before it was directed.")


class MeaningDiffers(CareError):
    """What was chosen contradicts the value and the laboratory's interval; `field` is the row's."""

    def __init__(self, field: str, value: str, interval: str, place: str) -> None:
        self.field = field
        where = {"low": "lies below", "high": "lies above", "inside": "lies inside"}[place]
        super().__init__(f"{value} {where} {interval}: choose “{place}”, or “unclear”.")


class ResultStruck(CareError):
    """Somebody struck it out already."""

    def __init__(self) -> None:
        super().__init__("This result was struck out already.")


class NotRead(CareError):
    """An owner is told of a result only when a clinician has read it."""

    def __init__(self, title: str) -> None:
        super().__init__(f"{title}: read the result first, with a sentence for the owner.")


class NothingToTell(CareError):
    """Every result was told before, or none has come."""

    def __init__(self) -> None:
        super().__init__("There is no result here that the owner was not told of.")


class StillOpen(CareError):
    """Before the signature a result stands in the visit's own letter."""

    def __init__(self) -> None:
        super().__init__("The record is not signed yet: the result stands in the visit’s letter.")


class NotAReport(CareError):
    """The file cannot be kept as a laboratory's report."""

    field = "report"

    def __init__(self, why: str) -> None:
        super().__init__(why)


class DoseNotHere(CareError):
    """Only what was ordered to be given here has doses given here."""

    def __init__(self, name: str) -> None:
        super().__init__(f"{name} was not ordered to be given here.")
