"""What an action of a visit may refuse; each message is one sentence for the person at the tablet."""

from clinic.patients.models import Patient
from clinic.platform.registries import Missing
from clinic.visits.models import Visit


class VisitError(Exception):
    """A step that was refused; nothing was changed."""


class SentBefore(VisitError):
    """The same form came a second time; its first sending stands."""

    def __init__(self) -> None:
        super().__init__("This was sent before and stands already.")


class MovedMeanwhile(VisitError):
    """Somebody else moved the visit between looking and tapping."""

    def __init__(self, visit: Visit) -> None:
        self.visit = visit
        super().__init__(
            f"{visit.patient.name} was moved on another tablet meanwhile: {visit.get_place_display()}."
        )


class NoSuchWay(VisitError):
    """The place cannot follow the place where the animal is."""

    def __init__(self, visit: Visit, to: str) -> None:
        self.visit = visit
        super().__init__(
            f"{visit.patient.name}: “{Visit.Place(to).label}” cannot follow “{visit.get_place_display()}”."
        )


class DeathHasFacts(VisitError):
    """A death is recorded with its facts, not as a way home."""

    def __init__(self, visit: Visit) -> None:
        self.visit = visit
        super().__init__(f"{visit.patient.name}’s death is recorded on a page of its own.")


class AlreadyHere(VisitError):
    """The patient has another visit in the house."""

    def __init__(self, patient: Patient) -> None:
        self.patient = patient
        super().__init__(f"{patient.name} is checked in already.")


class NobodyCameIn(VisitError):
    def __init__(self) -> None:
        super().__init__("Choose at least one animal that came in.")


class HasDied(VisitError):
    """Nothing is booked for an animal that died."""

    def __init__(self, patient: Patient) -> None:
        self.patient = patient
        super().__init__(f"{patient.name} died on {patient.deceased_on:%-d %B %Y}; nothing can be booked.")


class TakenMeanwhile(VisitError):
    """Another clinician has the animal that must be seen now."""

    def __init__(self, visit: Visit) -> None:
        self.visit = visit
        by = visit.see_now_taken_by.full_name if visit.see_now_taken_by else "Nobody"
        super().__init__(f"{by} has {visit.patient.name} already.")


class NotOpen(VisitError):
    """The record is signed: what comes later is an addendum."""

    def __init__(self) -> None:
        super().__init__("This record is signed. What comes later is an addendum.")


class NotSignedYet(VisitError):
    def __init__(self) -> None:
        super().__init__("This record is still open: change it, instead of adding to it.")


class NeedsWords(VisitError):
    """A reason or a text is missing, or an answer is not one of the list."""

    def __init__(self, field: str, sentence: str) -> None:
        self.field = field
        super().__init__(sentence)


class AlreadySigned(VisitError):
    def __init__(self, by: str) -> None:
        super().__init__(f"{by} has signed this record already.")


class NotReady(VisitError):
    """Signing is refused; `missing` lists everything that stands in its way."""

    def __init__(self, missing: list[Missing]) -> None:
        self.missing = missing
        super().__init__("Not ready to sign: " + " ".join(each.sentence for each in missing))


class ShownOtherwise(VisitError):
    """Between looking and confirming, what was to be put on the right patient changed."""

    def __init__(self) -> None:
        super().__init__("Something here changed meanwhile, so nothing was moved. Look again and confirm.")


class NotMoved(VisitError):
    """What was chosen cannot stand on the other patient; nothing at all was moved."""

    def __init__(self, where: str, why: str) -> None:
        super().__init__(f"{where}: {why} Nothing was moved.")


class SamePatient(VisitError):
    def __init__(self) -> None:
        super().__init__("That is the same patient.")


class BookedOtherwise(VisitError):
    """Moved, called off or come true on another tablet between looking and tapping."""

    def __init__(self, name: str) -> None:
        super().__init__(f"{name}: this booking changed on another tablet meanwhile. Look at it again.")
