"""What an action of this room may refuse; each message is one sentence for the person at the tablet."""

from datetime import date

from clinic.visits.errors import VisitError
from preventive.dates import day_words
from preventive.safety import SafetyQuestion


class PreventionError(VisitError):
    """Refused; nothing was changed. `field` names the field it belongs to, where there is one."""

    field: str | None = None


class Asked(PreventionError):
    """Questions stand in the way. `about`: the name of the product they speak of."""

    def __init__(self, questions: tuple[SafetyQuestion, ...], about: str, before: str) -> None:
        self.questions = questions
        self.about = about
        super().__init__(f"{about}: {before} " + " ".join(each.text for each in questions))


class Refused(Asked):
    """Not to be passed, whoever asks."""

    def __init__(self, questions: tuple[SafetyQuestion, ...], about: str) -> None:
        super().__init__(questions, about, "not recorded.")


class QuestionsOpen(Asked):
    """Each question wants a reason before it is recorded all the same."""

    def __init__(self, questions: tuple[SafetyQuestion, ...], about: str) -> None:
        super().__init__(questions, about, "before it is recorded:")


class ClinicianDecides(Asked):
    """The reason must be a clinician's."""

    def __init__(self, questions: tuple[SafetyQuestion, ...], about: str) -> None:
        super().__init__(questions, about, "a clinician decides:")


class Incomplete(PreventionError):
    """Something must be said and was not."""

    def __init__(self, field: str, sentence: str) -> None:
        self.field = field
        super().__init__(sentence)


class RowRefused(PreventionError):
    """One row of several. `place`: which, from 0."""

    def __init__(self, place: int, error: Incomplete) -> None:
        self.place = place
        self.field = error.field
        super().__init__(str(error))


class WrongPatient(PreventionError):
    """The visit, the lot or the product belongs elsewhere."""

    def __init__(self, sentence: str = "This visit belongs to another patient.") -> None:
        super().__init__(sentence)


class PatientDied(PreventionError):
    def __init__(self, name: str) -> None:
        super().__init__(f"{name} has died: nothing is given or promised any more.")


class StruckAlready(PreventionError):
    def __init__(self) -> None:
        super().__init__("This is struck out already.")


class OwnDateStands(PreventionError):
    def __init__(self, by: str, on: date) -> None:
        super().__init__(f"{by} set {day_words(on)} for this already. Withdraw that first.")


class LotUsedUp(PreventionError):
    """Somebody took the last one, or the count is wrong."""

    def __init__(self, number: str, left: int = 0) -> None:
        still = f"only {left} are left" if left else "nothing is left"
        super().__init__(f"Lot {number}: {still} by the count. Count it, or take another.")


class LotRecalled(PreventionError):
    def __init__(self, number: str) -> None:
        super().__init__(f"Lot {number} was recalled: nothing more is given from it.")


class DecidedAlready(PreventionError):
    def __init__(self) -> None:
        super().__init__("This was decided already.")


class NotTried(PreventionError):
    """Nobody approves what was not tried on every animal under the protocol of today."""

    def __init__(self) -> None:
        super().__init__("It is not tried on every animal yet, or the protocol has changed since.")


class NoCertificate(PreventionError):
    """It cannot be issued; the sentence says what is missing, or why the dose does not count."""


class StandsAlready(PreventionError):
    def __init__(self, name: str) -> None:
        super().__init__(f"Certificate {name} of this dose stands. Void it, or replace it.")
