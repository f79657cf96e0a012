"""What an action on a patient or owner may refuse; each message is one sentence for whoever typed."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from clinic.patients.judgement import Judgement, Offer


class PatientError(Exception):
    """A step that was refused; nothing was changed. `field` names the form's field it belongs to."""

    field = ""


class Impossible(PatientError):
    """A measured value that cannot be; `offers` are other readings of what was typed."""

    field = "typed"

    def __init__(self, judgement: Judgement) -> None:
        self.judgement = judgement
        self.reason = judgement.refused or f"Still missing: {', '.join(judgement.missing)}."
        self.offers: Sequence[Offer] = judgement.offers
        super().__init__(self.reason)


class AskOnce(PatientError):
    """A rare value: kept only when somebody looked twice."""

    field = "typed"

    def __init__(self, judgement: Judgement) -> None:
        self.judgement = judgement
        self.questions = judgement.questions
        super().__init__(" ".join(question.text for question in judgement.questions))


class UnitMissing(PatientError):
    """A unit is never assumed."""

    field = "unit"

    def __init__(self) -> None:
        super().__init__("Say the unit.")


class VisitSigned(PatientError):
    def __init__(self) -> None:
        super().__init__("This visit is signed: measure on the patient’s own page, or write an addendum.")


class NotThisPatient(PatientError):
    def __init__(self) -> None:
        super().__init__("This visit belongs to another patient.")


class SentBefore(PatientError):
    """The same form came a second time; its first sending stands."""

    def __init__(self) -> None:
        super().__init__("This was sent before and stands already.")


class NameMissing(PatientError):
    def __init__(self, field: str, sentence: str) -> None:
        self.field = field
        super().__init__(sentence)


@dataclass(frozen=True)
class Likely:
    """Somebody or an animal that may be the same: its name, why, and where it is looked at."""

    name: str
    why: str
    url: str


class LikelyDouble(PatientError):
    """It may stand here already; making it is still possible, knowingly."""

    def __init__(self, found: Sequence[Likely]) -> None:
        self.found = tuple(found)
        super().__init__(
            "This may stand here already: " + "; ".join(f"{each.name} ({each.why})" for each in found)
        )


class ChipRefused(PatientError):
    field = "microchip"


class ChipTaken(PatientError):
    """The number stands at another patient already."""

    field = "microchip"

    def __init__(self, number: str, name: str) -> None:
        super().__init__(f"Chip {number} stands at {name} already.")


class BornLater(PatientError):
    field = "birth_date"

    def __init__(self, birth: date) -> None:
        super().__init__(f"{birth:%-d %B %Y} has not come yet.")


class BornAfterDeath(PatientError):
    field = "birth_date"

    def __init__(self) -> None:
        super().__init__("This is after the day the animal died.")


class StruckAlready(PatientError):
    def __init__(self) -> None:
        super().__init__("This value was struck out already.")


class ReasonMissing(PatientError):
    field = "reason"

    def __init__(self) -> None:
        super().__init__("Say why, so that it can be understood later.")


class OwnerNeeded(PatientError):
    field = "owner"

    def __init__(self) -> None:
        super().__init__("A patient has at least one owner.")
