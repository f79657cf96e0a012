"""What the subjects of clinic themselves plug into its registries."""

from clinic.care.letter import CareInLetter
from clinic.care.plugs import register as plug_in_care
from clinic.letters.plugs import register as plug_in_letters
from clinic.patients.actions.measuring import struck_after_signing
from clinic.patients.letter import WeightInLetter
from clinic.platform.registries import letter_parts
from clinic.visits.actions.struck import tell_of_struck_value
from clinic.visits.letter import VisitInLetter
from clinic.visits.plugs import register as plug_in_visits


def plug_in() -> None:
    """Called once, when the apps are ready."""
    struck_after_signing.append(tell_of_struck_value)
    letter_parts.add(CareInLetter())
    letter_parts.add(WeightInLetter())
    letter_parts.add(VisitInLetter())
    plug_in_visits()
    plug_in_care()
    plug_in_letters()
